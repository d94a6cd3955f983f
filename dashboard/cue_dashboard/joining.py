"""The two small pages that another device sees before it is let in."""

import flask
from markupsafe import Markup

from cue_dashboard.door import JOIN_PATH, TOKEN_FIELD, came_through_door, door
from cue_dashboard.guest_book import PASS_LASTS_S
from cue_dashboard.sharing import JOINS
from cue_dashboard.words import share as words

PASS_COOKIE = "stunpace_pass"

_PAGE = Markup("""<!DOCTYPE html>
<html lang="en"><head><meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="color-scheme" content="light dark"><link rel="icon" href="data:,"><title>{title}</title>
<style>
body {{ font: 18px/1.5 system-ui, sans-serif; max-width: 32rem }}
body {{ margin: 12vh auto; padding: 0 20px }}
button {{ font: inherit; font-weight: 650; min-height: 56px; width: 100%; border-radius: 14px }}
</style></head><body><main><h1>{title}</h1><p>{text}</p>{form}</main></body></html>
""")
_FORM = Markup("""<form method="post" action="{path}">
<input type="hidden" name="{field}" value="{token}"><button>{button}</button></form>""")


def register(server: flask.Flask) -> None:
    """Add the address that a link leads to."""
    server.add_url_rule(JOIN_PATH, "join", ask_to_join, methods=["GET"])
    server.add_url_rule(JOIN_PATH, "joined", join, methods=["POST"])


def ask_to_join() -> flask.Response:
    """Return a page with one button: a messenger that looks at links must not use one up."""
    if not came_through_door():
        flask.abort(404)
    form = _FORM.format(
        path=JOIN_PATH,
        field=TOKEN_FIELD,
        token=flask.request.args.get(TOKEN_FIELD, ""),
        button=words.JOIN_BUTTON,
    )
    return _page(words.JOIN_TITLE, words.JOIN_TEXT, form)


def join() -> flask.Response:
    """Let the device in if its link still works."""
    if not came_through_door():
        flask.abort(404)
    sharing = door().sharing
    if not sharing.may_ask(JOINS, f"join {flask.request.remote_addr}"):
        return too_often()
    label = words.device(flask.request.user_agent.string)
    guest_pass = sharing.join(flask.request.form.get(TOKEN_FIELD, ""), label)
    if guest_pass is None:
        return not_let_in()
    response = flask.make_response(flask.redirect("/", 303))
    response.set_cookie(
        PASS_COOKIE,
        guest_pass,
        max_age=PASS_LASTS_S,
        httponly=True,
        samesite="Strict",
        secure=flask.request.is_secure,
    )
    return response


def not_let_in() -> flask.Response:
    """Return what a device without a pass gets, whatever it asked for."""
    return _page(words.NOT_LET_IN_TITLE, words.NOT_LET_IN_TEXT, status=403)


def too_often() -> flask.Response:
    """Return what a device gets that asks more often than pages do."""
    response = _page(words.TOO_OFTEN_TITLE, words.TOO_OFTEN_TEXT, status=429)
    response.headers["Retry-After"] = "1"
    return response


def _page(title: str, text: str, form: str = "", *, status: int = 200) -> flask.Response:
    """Return a small page; what is put into it is escaped."""
    page = _PAGE.format(title=title, text=text, form=form)
    return flask.make_response(str(page), status)
