"""The page's line to Python, run by node: one edit in flight, the newest of a gesture wins."""

from __future__ import annotations

import json
import shutil
import subprocess

import pytest

from labkit.widgets.assets import joined

pytestmark = pytest.mark.skipif(
    shutil.which("node") is None, reason="the browser tests drive the same line"
)
SCENE = """
const sent = [], seen = [], states = [];
let hear = null;
const model = { send: m => sent.push(m), off() {}, widget_manager: null,
  on: (name, act) => { if (name === 'msg:custom') hear = act; } };
const link = createLink(model, { sent() {}, heard() {}, status: s => states.push(s),
  reply: (m, mine, latest) => seen.push([m.seq, mine, latest]) });
const answer = () => hear({ kind: 'state', client: link.client, seq: sent.at(-1).seq });
const move = (gesture, n, final = false) => pushEdit(link, { do: 'move', gesture, n, final });
"""


def run(script: str) -> object:
    """What a scene prints as JSON."""
    source = joined(("link",), "js") + SCENE + script
    done = subprocess.run(
        ["node", "-e", source], capture_output=True, text=True, check=True, timeout=60
    )
    return json.loads(done.stdout)


def test_while_one_edit_is_under_way_only_the_newest_of_the_gesture_waits() -> None:
    told = run("""
      for (let n = 1; n <= 5; n++) move('g', n);
      const first = sent.map(m => m.n); answer(); move('g', 6, true); answer(); answer();
      console.log(JSON.stringify([first, sent.map(m => m.n), seen, isIdle(link)]));
      link.close();""")
    assert told == [
        [1],
        [1, 5, 6],
        [[1, True, False], [2, True, False], [3, True, True]],
        True,
    ]


def test_other_edits_keep_their_turn_and_none_is_dropped() -> None:
    told = run("""
      move('g', 1); move('g', 2, true); pushEdit(link, { do: 'lock' }); move('h', 3);
      pushEdit(link, { do: 'undo' }); for (let n = 0; n < 6; n++) if (link.flight) answer();
      console.log(JSON.stringify(sent.map(m => m.n ?? m.do))); link.close();""")
    assert told == [1, 2, "lock", 3, "undo"]


def test_answers_to_another_view_do_not_count_as_answers_here() -> None:
    told = run("""
      move('g', 1); hear({ kind: 'state', client: 'other', seq: 1 });
      console.log(JSON.stringify([seen, isIdle(link)])); link.close();""")
    assert told == [[[1, False, False]], False]


def test_a_notebook_that_refuses_the_message_is_said_to_be_lost() -> None:
    told = run("""
      model.send = () => { throw new Error('Cannot send'); };
      move('g', 1); move('g', 2);
      console.log(JSON.stringify([states, link.queue.length])); link.close();""")
    assert told == [["lost"], 0]
