"""Readings and weighings on large keys in Debian's chromium, and the same without scripts."""

from typing import Any

import pytest

from tests.pages.test_browser import opened

pytestmark = [pytest.mark.sound, pytest.mark.slow]

READ = (68, 89, 49, -19, -70, -88, -52, 25)


def test_readings_on_large_keys_give_the_move_as_they_are_typed(browser: Any, served: str) -> None:
    with opened(browser, size="tablet") as page:
        page.goto(f"{served}/metal/piece/A-M1-S2")
        page.fill("[name=limit_swing_um]", "130")
        for reading in READ:
            for key in str(reading):
                page.tap(f"[data-key='{key}']")
            page.tap("[data-key=next]")
        page.wait_for_selector("#said .verdict.fail")
        page.wait_for_selector("h1:has-text('0.088 mm toward 5')")
        assert page.locator("#answer svg").count() == 2
        page.tap("text=Keep it")
        page.wait_for_selector("text=Last kept")


def test_readings_and_weighings_work_without_scripts(browser: Any, served: str) -> None:
    with opened(browser, scripts=False) as page:
        page.goto(f"{served}/metal/piece/A-M1-S2")
        assert not page.locator(".pad").is_visible()
        for place, reading in enumerate(READ):
            page.locator("[name=reading]").nth(place).fill(str(reading))
        page.click("text=Find the centre")
        assert "toward 5 o" in page.inner_text("#answer")
        page.goto(f"{served}/compound/charge/invented-78-kiln-black")
        page.locator("[name=mass]").first.fill("11.405")
        page.locator("[name=mass]").first.press("Enter")
        assert "1 of 20 lines weighed, none wrong." in page.inner_text("h1")
        page.fill("header [name=q]", "A-M1-S2")
        page.press("header [name=q]", "Enter")
        assert "A-M1-S2 is a piece of metal." in page.inner_text("h1")


def test_a_line_is_weighed_on_large_keys(browser: Any, served: str) -> None:
    with opened(browser, size="tablet") as page:
        page.goto(f"{served}/compound/charge/invented-78-kiln-black")
        for key in "11.405":
            page.tap(f"[data-key='{key}']")
        page.wait_for_selector("h1:has-text('1 of 20 lines weighed')")
        assert page.locator("[data-fit] .pass").count() == 1
