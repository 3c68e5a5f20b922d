"""What a record is: formats, the frame of addresses, geometry of the arm, equalisation."""
