"""Single sampling plans by attributes: code letters and master tables as printed.

A cell is an acceptance number Ac (refusal number Re = Ac + 1), ``Ac/Re`` where the two leave a gap, ``v`` for an
arrow down (first plan below), ``^`` for an arrow up (first plan above), ``-`` where the table has no plan. **An arrow
leads to another row and to that row's own sample size.**

Sources. MIL-STD-105E (10 May 1989, public release), Tables I, II-A, II-B, II-C; the first three are also Tables 1,
2-A and 2-B of ISO 2859-1:1999. Four independent transcriptions agree in all 416 cells of the normal table; three full
ones in 415 of 416 tightened cells (A at AQL 10: the arrow is kept; one transcription prints 0/1 with n = 2, and only
lots of 8 or fewer reach it); all agree in the reduced table of MIL-STD-105E. The reduced table of GB/T 2828.1-2012,
which adopts ISO 2859-1:1999, is from one transcription; in ``UNCONFIRMED_REDUCED`` a second one prints 4/5 for 5/6.
"""

LEVELS = ("S-1", "S-2", "S-3", "S-4", "I", "II", "III")
"""Inspection levels; II is the usual one, S-1 to S-4 give small samples for dear or destructive tests."""

LOTS = """
2 8 A A A A A A B
9 15 A A A A A B C
16 25 A A B B B C D
26 50 A B B C C D E
51 90 B B C C C E F
91 150 B B C D D F G
151 280 B C D E E G H
281 500 B C D E F H J
501 1200 C C E F G J K
1201 3200 C D E G H K L
3201 10000 C D F G J L M
10001 35000 C D F H K M N
35001 150000 D E G J L N P
150001 500000 D E G J M P Q
500001 - D E H K N Q R
"""
"""Least and largest lot, then the code letter for each of the levels (Table I)."""

AQLS = [
    "0.010",
    "0.015",
    "0.025",
    "0.040",
    "0.065",
    "0.10",
    "0.15",
    "0.25",
    "0.40",
    "0.65",
    "1.0",
    "1.5",
    "2.5",
    "4.0",
    "6.5",
    "10",
    "15",
    "25",
    "40",
    "65",
    "100",
    "150",
    "250",
    "400",
    "650",
    "1000",
]
"""Acceptable quality levels as printed: percent nonconforming, or nonconformities per 100 units."""

NORMAL = """
A    2  v v v v v v v v v v v v v v 0 v v 1 2 3 5 7 10 14 21 30
B    3  v v v v v v v v v v v v v 0 ^ v 1 2 3 5 7 10 14 21 30 44
C    5  v v v v v v v v v v v v 0 ^ v 1 2 3 5 7 10 14 21 30 44 ^
D    8  v v v v v v v v v v v 0 ^ v 1 2 3 5 7 10 14 21 30 44 ^ ^
E   13  v v v v v v v v v v 0 ^ v 1 2 3 5 7 10 14 21 30 44 ^ ^ ^
F   20  v v v v v v v v v 0 ^ v 1 2 3 5 7 10 14 21 ^ ^ ^ ^ ^ ^
G   32  v v v v v v v v 0 ^ v 1 2 3 5 7 10 14 21 ^ ^ ^ ^ ^ ^ ^
H   50  v v v v v v v 0 ^ v 1 2 3 5 7 10 14 21 ^ ^ ^ ^ ^ ^ ^ ^
J   80  v v v v v v 0 ^ v 1 2 3 5 7 10 14 21 ^ ^ ^ ^ ^ ^ ^ ^ ^
K  125  v v v v v 0 ^ v 1 2 3 5 7 10 14 21 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^
L  200  v v v v 0 ^ v 1 2 3 5 7 10 14 21 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^
M  315  v v v 0 ^ v 1 2 3 5 7 10 14 21 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^
N  500  v v 0 ^ v 1 2 3 5 7 10 14 21 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^
P  800  v 0 ^ v 1 2 3 5 7 10 14 21 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^
Q 1250  0 ^ v 1 2 3 5 7 10 14 21 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^
R 2000  ^ ^ 1 2 3 5 7 10 14 21 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^
"""
"""Code letter, n, one cell for each AQL. Table II-A (2-A)."""

TIGHTENED = """
A    2  v v v v v v v v v v v v v v v v v v 1 2 3 5 8 12 18 27
B    3  v v v v v v v v v v v v v v 0 v v 1 2 3 5 8 12 18 27 41
C    5  v v v v v v v v v v v v v 0 v v 1 2 3 5 8 12 18 27 41 ^
D    8  v v v v v v v v v v v v 0 v v 1 2 3 5 8 12 18 27 41 ^ ^
E   13  v v v v v v v v v v v 0 v v 1 2 3 5 8 12 18 27 41 ^ ^ ^
F   20  v v v v v v v v v v 0 v v 1 2 3 5 8 12 18 ^ ^ ^ ^ ^ ^
G   32  v v v v v v v v v 0 v v 1 2 3 5 8 12 18 ^ ^ ^ ^ ^ ^ ^
H   50  v v v v v v v v 0 v v 1 2 3 5 8 12 18 ^ ^ ^ ^ ^ ^ ^ ^
J   80  v v v v v v v 0 v v 1 2 3 5 8 12 18 ^ ^ ^ ^ ^ ^ ^ ^ ^
K  125  v v v v v v 0 v v 1 2 3 5 8 12 18 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^
L  200  v v v v v 0 v v 1 2 3 5 8 12 18 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^
M  315  v v v v 0 v v 1 2 3 5 8 12 18 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^
N  500  v v v 0 v v 1 2 3 5 8 12 18 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^
P  800  v v 0 v v 1 2 3 5 8 12 18 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^
Q 1250  v 0 v v 1 2 3 5 8 12 18 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^
R 2000  0 ^ v 1 2 3 5 8 12 18 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^
S 3150  - - 1 - - - - - - - - - - - - - - - - - - - - - - -
"""
"""Table II-B (2-B). Row S exists for one cell only."""

REDUCED_105E = """
A    2  v v v v v v v v v v v v v v 0/1 v v 1/2 2/3 3/4 5/6 7/8 10/11 14/15 21/22 30/31
B    2  v v v v v v v v v v v v v 0/1 ^ v 0/2 1/3 2/4 3/5 5/6 7/8 10/11 14/15 21/22 30/31
C    2  v v v v v v v v v v v v 0/1 ^ v 0/2 1/3 1/4 2/5 3/6 5/8 7/10 10/13 14/17 21/24 ^
D    3  v v v v v v v v v v v 0/1 ^ v 0/2 1/3 1/4 2/5 3/6 5/8 7/10 10/13 14/17 21/24 ^ ^
E    5  v v v v v v v v v v 0/1 ^ v 0/2 1/3 1/4 2/5 3/6 5/8 7/10 10/13 14/17 21/24 ^ ^ ^
F    8  v v v v v v v v v 0/1 ^ v 0/2 1/3 1/4 2/5 3/6 5/8 7/10 10/13 ^ ^ ^ ^ ^ ^
G   13  v v v v v v v v 0/1 ^ v 0/2 1/3 1/4 2/5 3/6 5/8 7/10 10/13 ^ ^ ^ ^ ^ ^ ^
H   20  v v v v v v v 0/1 ^ v 0/2 1/3 1/4 2/5 3/6 5/8 7/10 10/13 ^ ^ ^ ^ ^ ^ ^ ^
J   32  v v v v v v 0/1 ^ v 0/2 1/3 1/4 2/5 3/6 5/8 7/10 10/13 ^ ^ ^ ^ ^ ^ ^ ^ ^
K   50  v v v v v 0/1 ^ v 0/2 1/3 1/4 2/5 3/6 5/8 7/10 10/13 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^
L   80  v v v v 0/1 ^ v 0/2 1/3 1/4 2/5 3/6 5/8 7/10 10/13 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^
M  125  v v v 0/1 ^ v 0/2 1/3 1/4 2/5 3/6 5/8 7/10 10/13 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^
N  200  v v 0/1 ^ v 0/2 1/3 1/4 2/5 3/6 5/8 7/10 10/13 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^
P  315  v 0/1 ^ v 0/2 1/3 1/4 2/5 3/6 5/8 7/10 10/13 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^
Q  500  0/1 ^ v 0/2 1/3 1/4 2/5 3/6 5/8 7/10 10/13 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^
R  800  ^ ^ 0/2 1/3 1/4 2/5 3/6 5/8 7/10 10/13 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^
"""
"""Table II-C of MIL-STD-105E, with the gap between Ac and Re."""

REDUCED_GBT = """
A    2  v v v v v v v v v v v v v v 0 v v 1 2 3 5 7 10 14 21 30
B    2  v v v v v v v v v v v v v 0 ^ v v 1 2 3 5 7 10 14 21 30
C    2  v v v v v v v v v v v v 0 ^ v v 1 2 3 5 6 8 10 14 21 ^
D    3  v v v v v v v v v v v 0 ^ v v 1 2 3 5 6 8 10 14 21 ^ ^
E    5  v v v v v v v v v v 0 ^ v v 1 2 3 5 6 8 10 14 21 ^ ^ ^
F    8  v v v v v v v v v 0 ^ v v 1 2 3 5 6 8 10 ^ ^ ^ ^ ^ ^
G   13  v v v v v v v v 0 ^ v v 1 2 3 5 6 8 10 ^ ^ ^ ^ ^ ^ ^
H   20  v v v v v v v 0 ^ v v 1 2 3 5 6 8 10 ^ ^ ^ ^ ^ ^ ^ ^
J   32  v v v v v v 0 ^ v v 1 2 3 5 6 8 10 ^ ^ ^ ^ ^ ^ ^ ^ ^
K   50  v v v v v 0 ^ v v 1 2 3 5 6 8 10 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^
L   80  v v v v 0 ^ v v 1 2 3 5 6 8 10 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^
M  125  v v v 0 ^ v v 1 2 3 5 6 8 10 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^
N  200  v v 0 ^ v v 1 2 3 5 6 8 10 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^
P  315  v 0 ^ v v 1 2 3 5 6 8 10 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^
Q  500  0 ^ ^ v 1 2 3 5 6 8 10 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^
R  800  ^ ^ ^ 1 2 3 5 6 8 10 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^
"""
"""Table 2-C of GB/T 2828.1-2012 (ISO 2859-1:1999 form, no gap)."""

UNCONFIRMED_REDUCED = [
    "C@65",
    "D@40",
    "E@25",
    "F@15",
    "G@10",
    "H@6.5",
    "J@4.0",
    "K@2.5",
    "L@1.5",
    "M@1.0",
    "N@0.65",
    "P@0.40",
    "Q@0.25",
    "R@0.15",
]
"""Cells of :data:`REDUCED_GBT` in which two transcriptions differ (5/6 kept, 4/5 read once)."""
