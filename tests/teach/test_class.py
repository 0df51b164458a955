"""Hand-outs, hand-ins, merging in any order, the class table, what goes back."""

from __future__ import annotations

import itertools
import os
import signal
import subprocess
import sys
from datetime import timedelta
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import labkit as lk
from labkit.errors import FormulaError, MoveError, RecordError, ShareError
from labkit.teach import Classroom, Desk, master
from labkit.teach.variants import pseudonym
from tests.teach.simulating import GEL, START, desk, open_class, work


@pytest.fixture(scope="module")
def handed_in(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Nine desks: 3 writes mPa·s for Pa·s, 5 reads a high pH, 7 has a clock in another year."""
    root = tmp_path_factory.mktemp("class")
    with open_class(root / "class") as room:
        handout = room.hand_out(root / "class.eln")
    (root / "in").mkdir()
    for number in range(9):
        start = START + timedelta(hours=1) if number != 7 else START - timedelta(days=900)
        with desk(root, number, handout, start) as one:
            work(one, number, unit="mPa*s" if number == 3 else "Pa*s", off=0.9 * (number == 5))
            if number == 2:
                one.lesson(1).check("grams", "1 g")
                one.lesson(1).check("grams", "2 g")
            one.hand_in(root / "in" / f"{number}.eln")
    return root


def name_of(root: Path, number: int) -> str:
    with Desk.open(root / f"desk-{number}") as one:
        return one.name


def gathered(root: Path, place: Path, paths: list[Path]) -> tuple[list[str], str, list[str]]:
    with open_class(place) as room:
        found = room.gather(paths)
        names = sorted(
            r.id for kind in ("trial", "measurement", "note") for r in room.bench.records(kind)
        )
        return names, room.table().to_csv(), [str(flag) for flag in found.flags]


class TestMaster:
    def test_blanks_are_bounded_and_all_else_is_locked(self) -> None:
        made = master(GEL, {"xanthan gum": ("0.3 %", "0.8 %")})
        state = [(x.material, x.locked, x.low is not None) for x in made.lines]
        assert state == [
            ("Aqua", False, False),
            ("Glycerin", True, False),
            ("Xanthan gum", False, True),
            ("Phenoxyethanol", True, False),
        ]

    @pytest.mark.parametrize(
        ("formula", "blanks", "words"),
        [
            (GEL, {}, "no blank"),
            (GEL, {"Aqua": (1, 99)}, "Aqua as a blank"),
            (GEL, {"Xanthan gum": (0.6, 0.8)}, "outside its bounds"),
            (GEL, {"Xanthan gum": (0, 100)}, "than their defaults"),
            (
                lk.Formula.parse("phase,material,percent\nA,Oil,60\nB,Wax,40"),
                {"Oil": (50, 70)},
                "no q.s. line",
            ),
        ],
    )
    def test_a_master_that_cannot_be_is_refused(self, formula, blanks, words) -> None:
        with pytest.raises(FormulaError, match=words):
            master(formula, blanks)

    def test_a_material_that_is_not_there_is_refused(self) -> None:
        with pytest.raises(MoveError, match="no line for 'squalane'"):
            master(GEL, {"squalane": (1, 2)})

    def test_a_class_without_a_blank_is_refused(self, tmp_path: Path) -> None:
        with Classroom.open(tmp_path) as room:
            with pytest.raises(RecordError, match="a master without a blank"):
                room.set_up(GEL, title="Gels")
            with pytest.raises(RecordError, match="no class on this bench"):
                room.terms  # noqa: B018


class TestDesk:
    def test_a_fork_stays_inside_the_blanks(self, handed_in: Path, tmp_path: Path) -> None:
        with Desk.open(tmp_path / "d", handout=handed_in / "class.eln") as one:
            assert one.blanks() == {"Xanthan gum": ("0.3000", "0.5000", "0.8000")}
            trial = one.fork({"Xanthan gum": "0.7 %"}, note="thicker?")
            assert trial.formula.total == 100
            assert [t.label for t in one.bench.lineage(trial)] == ["MASTER@class"]
            with pytest.raises(MoveError, match="0.80 %|0.8"):
                one.fork({"Xanthan gum": "0.9 %"})
            with pytest.raises(MoveError, match="locked"):
                one.fork({"Glycerin": "6 %"})
            assert len(one.bench.trials()) == 2

    def test_the_file_holds_no_name_of_a_person(self, handed_in: Path, tmp_path: Path) -> None:
        with Desk.open(
            tmp_path / "d", handout=handed_in / "class.eln", person="Somebody Real"
        ) as one:
            work(one, 1)
            path = one.hand_in(tmp_path)
        with lk.share.open(path) as shared:
            words = str(lk.share.preview(shared)) + shared.report
        assert "Somebody Real" not in words
        assert path.stem == one.name

    def test_answers_and_predictions_survive_a_kernel_that_dies(self, tmp_path: Path) -> None:
        code = (
            "import labkit as lk, os, sys\n"
            "desk = lk.teach.Desk.open(sys.argv[1])\n"
            "desk.lesson(3).predict('it rises')\n"
            "desk.lesson(3).check('working', '0.5')\n"
            "gel = lk.Formula.parse('phase,material,percent\\nA,Aqua,q.s.\\nA,Glycerin,5')\n"
            "trial = desk.bench.record(gel)\n"
            "desk.measure(trial, 'pH', 5.3)\n"
            "print('ready', flush=True)\n"
            "input()\n"
        )
        child = subprocess.Popen(
            [sys.executable, "-c", code, str(tmp_path)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )
        assert child.stdout is not None
        assert child.stdout.readline().strip() == "ready"
        os.kill(child.pid, signal.SIGKILL)
        child.communicate()
        with Desk.open(tmp_path) as one:
            assert [r.body["tags"][0] for r in one.answers()] == ["prediction", "answer"]
            assert one.lesson(3).formula.total == 100
            assert list(one.bench.readings()["value"]) == [5.3]
            assert one.bench.verify().ok

    def test_the_same_desk_has_the_same_numbers_again(self, tmp_path: Path) -> None:
        with Desk.open(tmp_path / "d") as one:
            first, name = one.lesson(2).ask("pair"), one.name
        with Desk.open(tmp_path / "d") as again:
            assert (again.lesson(2).ask("pair"), again.name) == (first, name)

    def test_the_teacher_works_out_the_same_numbers(self, handed_in: Path) -> None:
        with Desk.open(handed_in / "desk-1") as one:
            asked = one.lesson(4).ask("dial")
            course, who = one.terms.course, one.name
        page = lk.teach.teachers_page(4, [who], course=course)
        assert asked in page.html


class TestGathering:
    def test_every_record_comes_in_and_nothing_is_overwritten(self, handed_in, tmp_path) -> None:
        with open_class(tmp_path / "c") as room:
            before = {r.id: r.raw for r in room.bench.records("trial")}
            found = room.gather(handed_in / "in")
            assert found.files == len(found.desks) == 9
            assert len(room.bench.trials()) == 10
            assert room.bench.verify().ok
            assert all(room.bench.store.get(name).raw == raw for name, raw in before.items())
            again = room.gather(handed_in / "in")
            assert (again.new, again.flags) == (0, found.flags)

    @given(order=st.permutations(range(9)))
    @settings(
        max_examples=4, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
    )
    def test_the_order_is_irrelevant(self, handed_in, tmp_path_factory, order) -> None:
        paths = [handed_in / "in" / f"{i}.eln" for i in order]
        usual = sorted((handed_in / "in").glob("?.eln"))
        one, other = (tmp_path_factory.mktemp("room") for _ in range(2))
        assert gathered(handed_in, one, paths) == gathered(handed_in, other, usual)

    def test_one_by_one_is_the_same_as_all_at_once(self, handed_in, tmp_path) -> None:
        usual = sorted((handed_in / "in").glob("?.eln"))
        with open_class(tmp_path / "c") as room:
            for path in reversed(usual):
                room.gather([path])
            table = room.table().to_csv()
            flags = [str(flag) for flag in room.flags()]
        assert (table, flags) == gathered(handed_in, tmp_path / "d", usual)[1:]

    def test_units_clocks_and_far_readings_are_flagged_and_kept(self, handed_in, tmp_path) -> None:
        with open_class(tmp_path / "c") as room:
            flags = {(f.desk, f.sort): f.words for f in room.gather(handed_in / "in").flags}
            assert "1000 times less than the class" in flags[name_of(handed_in, 3), "unit"]
            assert "spreads above the class" in flags[name_of(handed_in, 5), "far"]
            assert "before the class was set up" in flags[name_of(handed_in, 7), "clock"]
            assert len(flags) == 3
            assert len(room.table("viscosity")) == len(room.table("pH")) == 9

    def test_a_clock_ahead_is_flagged(self, handed_in, tmp_path) -> None:
        with open_class(tmp_path / "c", later=timedelta(minutes=20)) as room:
            flags = room.gather([handed_in / "in" / "0.eln"]).flags
        assert [(f.sort, "later than now" in f.words) for f in flags] == [("clock", True)]

    def test_a_file_twice_and_an_earlier_state_are_recognised(self, handed_in, tmp_path) -> None:
        with desk(tmp_path, 20, handed_in / "class.eln") as one:
            work(one, 20)
            first = one.hand_in(tmp_path / "first.eln")
            (tmp_path / "copy.eln").write_bytes(first.read_bytes())
            one.fork(label="second")
            one.hand_in(tmp_path / "later.eln")
        with open_class(tmp_path / "c") as room:
            found = room.gather([tmp_path / f"{n}.eln" for n in ("later", "copy", "first")])
            assert [f.words for f in found.flags if f.sort == "duplicate"] == [
                "copy.eln holds the same as another file",
                "first.eln is an earlier state of another file",
            ]
            assert len(room.bench.trials()) == 3

    def test_a_copied_desk_that_went_apart_is_flagged_and_kept(self, handed_in, tmp_path) -> None:
        with desk(tmp_path, 21, handed_in / "class.eln") as one:
            work(one, 21)
            one.bench.backup(tmp_path / "copy.db")
            one.fork(label="left")
            one.hand_in(tmp_path / "left.eln")
        (tmp_path / "copy").mkdir()
        (tmp_path / "copy.db").rename(tmp_path / "copy" / "bench.db")
        with Desk.open(tmp_path / "copy") as other:
            other.fork({"Xanthan gum": "0.6 %"}, label="right")
            other.hand_in(tmp_path / "right.eln")
        with open_class(tmp_path / "c", later=timedelta(days=9000)) as room:
            found = room.gather([tmp_path / "left.eln", tmp_path / "right.eln"])
            assert [f.sort for f in found.flags] == ["copied"]
            assert len(room.bench.trials()) == 4

    def test_a_damaged_file_stays_outside_and_the_others_come_in(self, handed_in, tmp_path) -> None:
        good = (handed_in / "in" / "0.eln").read_bytes()
        (tmp_path / "cut.eln").write_bytes(good[: len(good) // 2])
        (tmp_path / "words.eln").write_text("not a history")
        (tmp_path / "good.eln").write_bytes(good)
        with open_class(tmp_path / "c") as room:
            found = room.gather(tmp_path)
        assert found.files == 1
        assert [(f.desk, f.sort) for f in found.flags] == [
            ("cut.eln", "left out"),
            ("words.eln", "left out"),
        ]

    def test_open_desks_are_gathered_like_their_files(self, handed_in, tmp_path) -> None:
        with open_class(tmp_path / "c") as room, open_class(tmp_path / "d") as other:
            with Desk.open(handed_in / "desk-1") as one, Desk.open(tmp_path / "idle") as idle:
                found = room.gather([one.bench, idle.bench])
            other.gather([handed_in / "in" / "1.eln"])
            assert room.table().to_csv() == other.table().to_csv()
            assert [(f.desk, f.sort) for f in found.flags] == [(idle.name, "other class")]

    def test_another_class_is_left_out(self, handed_in, tmp_path) -> None:
        with open_class(tmp_path / "other", seed=99) as room:
            found = room.gather(handed_in / "in")
        assert found.files == 0
        assert {f.sort for f in found.flags} == {"other class"}

    def test_a_file_from_a_copy_of_the_class_itself_is_told(self, handed_in, tmp_path) -> None:
        with open_class(tmp_path / "c") as room:
            (tmp_path / "copied").mkdir()
            room.bench.backup(tmp_path / "copied" / "bench.db")
            with Desk.open(tmp_path / "copied") as one:
                one.fork()
                one.hand_in(tmp_path / "d.eln")
            found = room.gather([tmp_path / "d.eln"])
            assert [(f.desk, f.sort) for f in found.flags] == [("d.eln", "copied")]
            assert "copy of the class's own bench" in found.flags[0].words
            assert len(room.bench.trials()) == 2

    def test_a_changed_locked_line_is_flagged(self, handed_in, tmp_path) -> None:
        with desk(tmp_path, 22, handed_in / "class.eln") as one:
            free = one.master.formula.lock("Glycerin", False).move("Glycerin", "6 %")
            one.bench.record(free, parent=one.master)
            one.hand_in(tmp_path / "d.eln")
        with open_class(tmp_path / "c") as room:
            found = room.gather([tmp_path / "d.eln"])
        assert [f.words for f in found.flags] == ["trial T1: Glycerin 4.00 → 6.00 %"]

    def test_a_reading_taken_another_way_is_not_compared(self, handed_in, tmp_path) -> None:
        with desk(tmp_path, 23, handed_in / "class.eln") as one:
            one.measure(one.fork(), "pH", 5.2, temperature="19 °C", dilution="neat")
            one.hand_in(tmp_path / "d.eln")
        with open_class(tmp_path / "c") as room:
            room.gather(handed_in / "in")
            found = room.gather([tmp_path / "d.eln"])
        flag = next(f for f in found.flags if f.desk == one.name)
        assert flag.sort == "conditions"
        assert "read another way than 25 °C, neat" in flag.words

    def test_a_temperature_in_fahrenheit_is_flagged(self, handed_in, tmp_path) -> None:
        with desk(tmp_path, 24, handed_in / "class.eln") as one:
            one.measure(one.fork(), "pH", 5.4, temperature="77 °C", dilution="neat")
            one.hand_in(tmp_path / "d.eln")
        with open_class(tmp_path / "c") as room:
            room.gather(handed_in / "in")
            flags = room.gather([tmp_path / "d.eln"]).flags
        flag = next(f for f in flags if f.desk == one.name)
        assert flag.sort == "unit"
        assert "77 °C would be the class's 25 °C if it was read in °F" in flag.words

    def test_an_empty_or_missing_folder_is_refused(self, tmp_path) -> None:
        with open_class(tmp_path / "c") as room:
            with pytest.raises(ShareError, match="no such folder"):
                room.gather(tmp_path / "nowhere")
            (tmp_path / "empty").mkdir()
            with pytest.raises(ShareError, match="no hand-ins"):
                room.gather(tmp_path / "empty")


class TestLooking:
    @pytest.fixture
    def room(self, handed_in, tmp_path):
        with open_class(tmp_path / "c") as room:
            room.gather(handed_in / "in")
            yield room

    def test_the_table_has_each_desk_beside_the_class(self, room) -> None:
        table = room.table("viscosity").set_index("desk")
        assert len(table) == 9
        usual = table[table["flag"] == ""]
        assert ((usual["off"] > 0.75) & (usual["off"] < 1.3)).all()
        low, high = (usual["class"].min(), usual["class"].max())
        assert high > 2 * low, "the class's line follows the blank"

    def test_the_spread_between_desks_stands_beside_their_own(self, room) -> None:
        spread = room.spread("pH")
        assert spread.flagged == 1
        assert spread.between > 10 * spread.repeat
        assert spread.between_without < 0.05
        assert "between desks" in str(spread)

    def test_a_spread_without_repeats_says_so(self, tmp_path, handed_in) -> None:
        with open_class(tmp_path / "d") as room:
            assert "must read the same thing twice" in str(room.spread("pH"))

    def test_who_is_stuck_is_named_with_what_to_say(self, room, handed_in, tmp_path) -> None:
        with desk(tmp_path, 30, handed_in / "class.eln") as idle:
            idle.hand_in(tmp_path / "idle.eln")
        with desk(tmp_path, 31, handed_in / "class.eln") as half:
            half.measure(half.fork(), "pH", 5.4, temperature="25 °C", dilution="neat")
            half.hand_in(tmp_path / "half.eln")
        room.gather([tmp_path / "idle.eln", tmp_path / "half.eln"])
        stuck = room.stuck().set_index("desk")["help"]
        assert stuck[idle.name] == "ask what holds them up: nothing was made"
        assert stuck[half.name] == "not measured: viscosity"
        assert "lesson 1, grams" in stuck[name_of(handed_in, 2)]
        assert len(stuck) == 3

    def test_the_page_for_a_desk_says_what_is_odd(self, room, handed_in) -> None:
        text = " ".join(room.feedback(name_of(handed_in, 3)).text.split())
        assert "1000 times less than the class" in text
        assert "with the class" in text
        text = room.feedback(name_of(handed_in, 2)).text
        assert "lesson 1, grams" in text

    def test_the_certificate_lists_what_was_measured_and_gives_no_marks(
        self, room, handed_in
    ) -> None:
        text = room.certificate(name_of(handed_in, 0)).text
        assert text.count("viscosity") == 3
        assert "Xanthan gum 0.30 %" in text
        assert "gives no marks" in text

    def test_comments_go_back_to_one_desk_only(self, room, handed_in, tmp_path) -> None:
        who = name_of(handed_in, 4)
        room.comment(who, "Stir slower.")
        path = room.hand_back(who, tmp_path)
        with Desk.open(handed_in / "desk-4") as one:
            one.take_back(path)
            assert [r.body["text"] for r in one.bench.search("Stir slower")] == ["Stir slower."]
            assert len(one.bench.trials()) == 2
        with pytest.raises(RecordError, match="no trial of a desk of that name"):
            room.comment("nobody", "Hello.")

    def test_the_handout_after_a_class_holds_nothing_of_the_learners(self, room, tmp_path) -> None:
        with lk.share.open(room.hand_out(tmp_path / "again.eln")) as shared:
            assert list(shared.trials()["label"]) == ["MASTER"]
            assert len(shared.records()) == 2

    def test_the_wall_shows_everybody_and_runs_nothing(self, room, tmp_path) -> None:
        page = room.projector()
        html = page.html
        assert "9 desks have handed in" in html
        assert 'http-equiv="refresh" content="5"' in html
        assert "<script" not in html
        assert "default-src 'none'" in html
        assert "decimal" not in html
        assert html.index('class="odd"') < html.index("<td></td>"), "odd ones first"

    def test_the_wall_follows_the_files_that_come_in(self, handed_in, tmp_path) -> None:
        waiting = sorted((handed_in / "in").glob("?.eln"))
        folder = tmp_path / "in"
        folder.mkdir()
        seen: list[str] = []
        with open_class(tmp_path / "c") as room:

            def wait(_: float) -> None:
                seen.append((tmp_path / "wall.html").read_text(encoding="utf-8"))
                path = waiting[len(seen) - 1]
                (folder / path.name).write_bytes(path.read_bytes())

            wall = room.projector("pH")
            assert (
                wall.follow(
                    tmp_path / "wall.html", times=3, before=lambda: room.gather(folder), wait=wait
                )
                == 3
            )
        last = (tmp_path / "wall.html").read_text(encoding="utf-8")
        assert "0 desks have handed in" in seen[0]
        assert "1 desk has handed in" in seen[1]
        assert "2 desks have handed in" in last

    def test_a_title_that_is_markup_shows_as_typed(self, handed_in, tmp_path) -> None:
        with Classroom.open(tmp_path / "odd.db") as odd:
            made = master(GEL, {"Xanthan gum": ("0.3 %", "0.8 %")})
            odd.set_up(made, title="<img src=x onerror=alert(1)>", measures=["<b>shine</b>"])
            html = odd.projector().html
        assert "<img" not in html
        assert "<b>" not in html
        assert "&lt;img src=x onerror=alert(1)&gt;" in html

    def test_the_wall_reads_a_bench_by_its_place(self, room, tmp_path) -> None:
        wall = lk.teach.Projector(tmp_path / "c")
        assert wall.html == room.projector().html
        with pytest.raises(ShareError, match="Choose another place"):
            wall.save(tmp_path / "nowhere" / "wall.html")


def test_two_copies_of_a_name_do_not_hide_each_other() -> None:
    some = [pseudonym(str(i)) for i in range(500)]
    pairs = sum(a == b for a, b in itertools.combinations(some, 2))
    assert pairs == 0
