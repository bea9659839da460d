"""News for open pages: a page that was drawn too early is told what it missed."""

import asyncio

from doorwright.web.bulletin import Bulletin, News


def _first_two(known: News | None) -> list[bytes]:
    async def hear() -> list[bytes]:
        bulletin = Bulletin()
        bulletin.start()
        stream = bulletin.listen("book medium", lambda: known)
        heard = [await anext(stream)]
        bulletin.tell("book medium", "revision", revision=2)
        return [*heard, await anext(stream)]

    return asyncio.run(hear())


def test_what_is_known_already_comes_before_any_news() -> None:
    findings = ("findings", {"revision": 1})
    assert _first_two(findings)[1] == b'event: findings\ndata: {"revision":1}\n\n'


def test_where_nothing_is_known_yet_the_next_news_come() -> None:
    assert _first_two(None)[1] == b'event: revision\ndata: {"revision":2}\n\n'
