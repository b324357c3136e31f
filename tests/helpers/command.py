"""The command line, called as a person would, within this process."""

import json

from click.testing import CliRunner

from handslide.faces.cli.main import main


def run(*words, code=0, typed=None):
    """The result of a command that must end with ``code``; an unforeseen exception is raised.

    ``typed`` is what comes in from the keyboard.
    """
    result = CliRunner().invoke(main, [str(word) for word in words], input=typed)
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    assert result.exit_code == code, result.output + result.stderr
    return result


def run_json(*words):
    return json.loads(run(*words, "--json").stdout)


def one_sentence(result):
    """What a command said on stderr: one line, in our name."""
    text = result.stderr.strip()
    assert text.startswith("handslide: ")
    assert len(text.splitlines()) == 1
    assert "Traceback" not in text
    return text
