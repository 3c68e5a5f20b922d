"""The pages are for this computer and its own person: host, policy, size, forms."""

import pytest
from fastapi.testclient import TestClient

from runtrue.web import guard


@pytest.mark.parametrize("host", ["elsewhere.example", "127.0.0.1.elsewhere.example", "10.0.0.7:8417", "", "[::2]:80"])
def test_another_name_is_refused(client: TestClient, host: str) -> None:
    answer = client.get("/", headers={"host": host})
    assert answer.status_code == 421
    assert "Quillmere" not in answer.text


@pytest.mark.parametrize("host", ["127.0.0.1:8417", "localhost", "[::1]:8417"])
def test_this_computer_is_served(client: TestClient, host: str) -> None:
    assert client.get("/", headers={"host": host}).status_code == 200


@pytest.mark.parametrize("path", ["/", "/copies", "/nowhere", "/static/page.css", "/openapi.json"])
def test_every_answer_carries_the_policy(client: TestClient, path: str) -> None:
    headers = client.get(path).headers
    policy = headers["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
    assert headers["x-content-type-options"] == "nosniff"


@pytest.mark.parametrize("path", ["/", "/copies", "/nowhere"])
def test_a_page_asks_for_nothing_elsewhere_and_holds_no_script_or_style(client: TestClient, path: str) -> None:
    text = client.get(path).text
    assert "http://" not in text.replace("http://www.w3.org/2000/svg", "")
    assert "https://" not in text
    assert "<style" not in text
    assert " style=" not in text
    assert " onclick" not in text
    assert text.count("<script") == text.count('<script type="module" src="/static/')


def test_the_docs_page_of_the_framework_is_off(client: TestClient) -> None:
    assert client.get("/docs").status_code == 404
    assert client.get("/redoc").status_code == 404


def test_a_form_of_another_page_is_refused(client: TestClient) -> None:
    answer = client.post("/copies", headers={"origin": "http://elsewhere.example"})
    assert answer.status_code == 403


def test_too_large_a_form_is_refused_before_it_is_read(client: TestClient) -> None:
    answer = client.post("/copies", headers={"content-length": str(guard.MOST_FORM + 1)}, content=b"")
    assert answer.status_code == 413


def test_a_page_is_json_too(client: TestClient) -> None:
    asked = client.get("/", headers={"accept": "application/json"})
    assert asked.headers["content-type"] == "application/json"
    assert asked.json() == client.get("/index.json").json()


def test_what_is_not_there_is_said_in_one_line(client: TestClient) -> None:
    answer = client.get("/copies/J-99/A")
    assert answer.status_code == 404
    assert "has no recording" in answer.text
    assert client.get("/copies/J-99/A.json").json()["status"] == 404
