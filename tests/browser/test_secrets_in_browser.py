"""Secrets in a real browser: shown for half a minute, then gone from the page, and never on the way back."""

from playwright.sync_api import Page, expect

from doorwright.app.demo import PASSPHRASE


def shown(page: Page, address: str) -> str:
    page.goto(f"{address}/books/medium/secrets")
    page.get_by_label("Unit or switch").fill("SW-A1")
    page.get_by_label("Passphrase of the vault").first.fill(PASSPHRASE)
    page.get_by_role("button", name="Show for 30 seconds").click()
    secret = page.locator(".secret")
    expect(secret).to_be_visible()
    return secret.inner_text()


def test_a_secret_is_gone_after_half_a_minute(page: Page, address: str) -> None:
    page.clock.install()
    secret = shown(page, address)
    assert page.get_by_label("Passphrase of the vault").first.input_value() == ""
    page.clock.fast_forward(20_000)
    assert secret in page.content()
    page.clock.fast_forward(11_000)
    expect(page.locator("#revealed")).to_have_text("The secrets are hidden again.")
    assert secret not in page.content()


def test_a_secret_can_be_hidden_at_once_and_is_not_there_on_the_way_back(page: Page, address: str) -> None:
    secret = shown(page, address)
    page.get_by_role("button", name="Hide now").click()
    assert secret not in page.content()
    secret = shown(page, address)
    page.goto(f"{address}/books/medium/signatures")
    page.go_back()
    expect(page.get_by_role("heading", name="Secrets", exact=True)).to_be_visible()
    assert secret not in page.content()
    assert secret not in str(page.evaluate("JSON.stringify([{...localStorage}, {...sessionStorage}])"))


def test_a_wrong_passphrase_is_told_where_it_was_typed(page: Page, address: str) -> None:
    page.goto(f"{address}/books/medium/secrets")
    page.get_by_label("Unit or switch").fill("SW-A1")
    page.get_by_label("Passphrase of the vault").first.fill("not this one at all")
    page.get_by_role("button", name="Show for 30 seconds").click()
    expect(page.locator("#said")).to_contain_text("does not open the vault")
    assert page.get_by_label("Unit or switch").input_value() == "SW-A1"
