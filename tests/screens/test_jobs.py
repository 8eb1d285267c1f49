"""Searches at work: each belongs to its visitor, so many at once, the others in order; nothing is timed."""

import threading
import time
from datetime import date
from functools import partial
from pathlib import Path

import errands
import pytest
from screens.looking import PAGES, served
from screens.looking import visit as look
from screens.visiting import key, open_with, press, run, said, visit

from renovation.aside import NICER, Worker
from renovation.decide.dossier import Dossier
from renovation.inputs import demo_names, demo_scenario, write_scenario
from renovation.money.loan_terms import LoanError
from renovation.screens import jobs, searches
from renovation.screens.jobs import Job, Line
from renovation.screens.memory import cash as cash_results
from renovation.show.note import credit_note, with_appendix
from renovation.words import Words

WORDS = Words("en")
LONG = 30.0
"""Seconds that something may take that takes none; a test that waits so long has failed."""


class Held:
    """Work that is begun and then waits to be let go, or for its search to be over."""

    def __init__(self):
        self.begun, self.free = threading.Event(), threading.Event()

    def __call__(self, job):
        self.begun.set()
        while not self.free.wait(0.01):
            if job.over():
                return "so far"
        return "whole"


def held(line, name, here=lambda: True):
    work = Held()
    return line.start(Job(name, "found", work, here=here)), work


def ended(job):
    job.thread.join(LONG)
    assert not job.at_work
    return job


def test_a_search_answers_and_says_what_went_wrong():
    line = Line(1)
    assert ended(line.start(Job("a", "found", lambda job: (job.key, job.name)))).result == ("a", "found")
    failed = ended(line.start(Job("b", "found", lambda job: 1 / len(job.name[5:]))))
    assert failed.result is None
    assert isinstance(failed.error, ZeroDivisionError)
    # one that failed keeps nobody waiting
    assert ended(line.start(Job("c", "found", lambda job: len(job.key)))).result == 1


def test_so_many_are_at_work_at_once_and_the_others_come_in_their_order():
    line = Line(2)
    searches = [held(line, name) for name in "abcd"]
    for _, work in searches[:2]:
        assert work.begun.wait(LONG)
    assert [line.place(job) for job, _ in searches] == [0, 0, 1, 2]
    assert [job.began is None for job, _ in searches] == [False, False, True, True]
    assert not any(work.begun.is_set() for _, work in searches[2:])
    searches[1][1].free.set()
    assert searches[2][1].begun.wait(LONG)
    assert [line.place(job) for job, _ in searches] == [0, 0, 0, 1]
    assert not searches[3][1].begun.is_set()
    for _, work in searches:
        work.free.set()
    assert [ended(job).result for job, _ in searches] == ["whole"] * 4


def test_one_that_is_stopped_while_it_waits_never_begins_and_lets_the_next_one_in():
    line = Line(1)
    (first, hold), (second, unbegun), (third, last) = (held(line, name) for name in "abc")
    assert hold.begun.wait(LONG)
    second.stop()
    ended(second)
    assert (second.result, second.error, second.began) == (None, None, None)
    assert not unbegun.begun.is_set()
    assert line.place(third) == 1
    hold.free.set()
    assert last.begun.wait(LONG)
    last.free.set()
    assert (ended(first).result, ended(third).result) == ("whole", "whole")


@pytest.mark.parametrize("waits", [False, True])
def test_the_search_of_a_visitor_who_left_ends_and_no_other_does(waits):
    line, there = Line(1 if waits else 2), threading.Event()
    there.set()
    stays, hold = held(line, "stays")
    assert hold.begun.wait(LONG)
    leaves, work = held(line, "leaves", here=there.is_set)
    if not waits:
        assert work.begun.wait(LONG)
    there.clear()
    ended(leaves)
    assert leaves.stopped.is_set()
    assert leaves.result == (None if waits else "so far")
    assert stays.at_work
    assert not stays.stopped.is_set()
    hold.free.set()
    assert ended(stays).result == "whole"


def test_one_who_comes_back_soon_was_never_away(monkeypatch):
    now, is_open = [100.0], [True]
    monkeypatch.setattr(jobs.time, "monotonic", lambda: now[0])
    monkeypatch.setattr(jobs, "_is_open", lambda session: session == "one" and is_open[0])
    monkeypatch.setattr(jobs, "get_script_run_ctx", lambda: type("Context", (), {"session_id": "one"}))
    here = jobs._visitor()
    assert here()
    is_open[0] = False
    assert here()
    now[0] += 0.9 * jobs.PATIENCE
    assert here()
    is_open[0] = True
    assert here()
    is_open[0] = False
    assert here()
    now[0] += jobs.PATIENCE
    assert not here()


class BrokenOffError(Exception):
    """What breaks a run of a page off, as its server does."""


def test_what_a_page_waits_for_is_told_refused_and_ended_with_the_run_of_the_page(monkeypatch):
    told = []

    def broken_off(place, share):
        if len(told) > 3:
            raise BrokenOffError
        told.append((place, share))

    with Worker() as worker:
        monkeypatch.setattr(jobs, "ready", lambda: worker)
        with pytest.raises(LoanError):
            jobs.answer(errands.refused, print)
        assert jobs.answer(partial(errands.counted, 2), print) == 2
        first = worker.number
        with pytest.raises(BrokenOffError):
            jobs.answer(partial(errands.counted, 5_000), broken_off)
        assert eventually(lambda: worker.number != first)
        assert worker.is_alive
    assert told[0] == (0, 0.0)


# On the page


def searching(**changes):
    """The plan page while its search is at work."""
    at = visit("plan", farm="few_hands")
    at.session_state["scenario"] = demo_scenario("few_hands").changed(planning__gap=0.0, **changes)
    return press(run(at), "make_plan")


def test_opening_another_farm_ends_the_search_and_a_change_of_the_same_farm_does_not():
    at = searching()
    job = at.session_state["search"]
    at.session_state["scenario"] = at.session_state["scenario"].changed(household__floor=1.0)
    run(at)
    assert not job.stopped.is_set()
    assert at.session_state["search"] is job
    at.selectbox(key=key(at, "farm")).set_value(demo_names()[0])
    run(at)
    assert job.stopped.is_set()
    assert "search" not in at.session_state
    job.thread.join(2.0)  # it has ended its worker by then, which may have been in the middle of a programme
    assert not job.at_work
    assert job.result is None
    assert "make_plan" in {button.key.split("|")[0] for button in at.button}


def test_a_search_that_waits_says_its_place_and_can_be_called_off(monkeypatch):
    line = Line(1)
    other, hold = held(line, "other")
    assert hold.begun.wait(LONG)
    monkeypatch.setattr(jobs, "line", lambda: line)
    at = searching()
    said = [status.label for status in at.status]
    assert said == [WORDS("screen.plan.step.waiting", place=1)]
    job = at.session_state["search"]
    assert job.began is None
    press(at, "stop_plan")
    ended(job)
    run(at)
    assert "make_plan" in {button.key.split("|")[0] for button in at.button}
    assert not at.header
    hold.free.set()
    ended(other)


def test_a_search_whose_line_broke_off_says_so_and_begins_again_when_asked():
    at = searching()
    at.session_state["search"].here = lambda: False
    ended(at.session_state["search"])
    run(at)
    assert said(at) == [WORDS("screen.plan.called_off")]
    assert "make_plan" in {button.key.split("|")[0] for button in at.button}


@pytest.mark.parametrize(
    ("page", "task", "told"), [("plan", "find", "plan.failed"), ("risk", "futures", "screen.risk.died")]
)
def test_work_that_is_killed_is_told_in_words(monkeypatch, page, task, told):
    monkeypatch.setattr(searches, task, errands.killed)
    if page == "plan":
        at = searching(household__floor=2.0)
        ended(at.session_state["search"])
        run(at)
    else:
        at = open_with(page, risk__seed=77)
    assert WORDS(told) in said(at)


@pytest.mark.browser
@pytest.mark.long
@pytest.mark.parametrize("leave", ["close", "reload"])
def test_no_solver_is_left_when_its_page_is_closed_or_loaded_anew(browser, leave):
    """The processes of the server are looked at; the search itself would go on for minutes."""
    endless = demo_scenario("few_hands").changed(planning__gap=0.0, planning__time_limit_seconds=600.0)
    content = {"name": "farm.toml", "mimeType": "application/toml", "buffer": write_scenario(endless).encode()}
    with served() as address, look(browser, address) as seen:
        seen.open(f"{address}/{PAGES['plan']}")
        seen.page.get_by_text(WORDS("screen.sidebar.files")).click()
        seen.page.locator('input[type="file"]').set_input_files(content)
        seen.settle()
        seen.page.get_by_role("button", name=WORDS("screen.plan.make"), exact=True).click()
        port = address.rsplit(":", 1)[1]
        assert eventually(lambda: solvers(port))
        if leave == "close":
            seen.page.close()
        else:
            seen.page.reload()
        assert eventually(lambda: not solvers(port))


def solvers(port):
    """The workers of minutes that a server on this port has begun, by their priority."""
    parents = {}
    for process in Path("/proc").glob("[0-9]*"):
        try:
            called = (process / "cmdline").read_text()
            stat = (process / "stat").read_text().rpartition(")")[2].split()
        except OSError:
            continue  # it has ended
        parents[process.name] = called, stat[1], int(stat[16])
    servers = {one for one, (called, *_) in parents.items() if f"--server.port\0{port}\0" in called}
    return [one for one, (_, parent, nice) in parents.items() if parent in servers and nice >= NICER]


def eventually(asked):
    """Whether this comes true before a search of minutes could have ended by itself."""
    return any(asked() or time.sleep(0.1) for _ in range(int(LONG / 0.1)))


def test_turns_are_taken_in_the_order_in_which_they_were_asked_for():
    turns, came = jobs.Turns(1), []
    turns.take()

    def visitor(name):
        turns.take()
        came.append(name)
        turns.give()

    waiting = []
    for name in range(5):
        waiting.append(threading.Thread(target=visitor, args=(name,)))
        waiting[-1].start()
        while len(turns._waiting) <= name:
            time.sleep(0.001)
    assert came == []
    turns.give()
    for thread in waiting:
        thread.join(5)
    assert came == [0, 1, 2, 3, 4]


def test_a_page_that_waits_for_a_task_lets_others_be_drawn():
    with jobs.turn(), jobs.turn():
        drawn = threading.Event()

        def another():
            with jobs.turn():
                drawn.set()

        thread = threading.Thread(target=another)
        thread.start()
        assert not drawn.wait(0.2)
        with jobs._others_first():
            assert drawn.wait(5)
        thread.join(5)


@pytest.mark.long
def test_the_files_for_the_lender_are_made_by_the_worker():
    """The report and the workbook take seconds: meanwhile other pages are drawn."""
    farm, words = demo_scenario(), Words("en")
    here = time.process_time()
    asked = cash_results.Asked(farm, "en", None)
    made = cash_results.report_file(asked)
    assert time.process_time() - here < 1.0  # waiting takes no work of this process
    assert made == with_appendix(Dossier(farm), words, date.today())
    assert cash_results.note_file(asked) == credit_note(farm, words, date.today())
    assert cash_results.workbook_file(asked)[:2] == b"PK"
