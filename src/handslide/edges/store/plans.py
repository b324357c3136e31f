"""The tables ``plan`` and ``plan_tick``: weeks of practice, and what was ticked by hand."""

from dataclasses import dataclass

from handslide.edges.store.connection import Connection
from handslide.edges.store.database import now


@dataclass(frozen=True, slots=True)
class PlanRow:
    """A plan as stored; ``start_on`` is its first day (ISO 8601)."""

    id: int
    student_id: int
    start_on: str
    weeks: int
    minutes: int
    level: str
    seed: int
    created_at: str


def insert_plan(
    db: Connection,
    student_id: int,
    *,
    start_on: str,
    weeks: int,
    minutes: int,
    level: str,
    seed: int,
) -> int:
    """A new plan, which holds from now on; its id."""
    done = db.execute(
        "INSERT INTO plan (student_id, start_on, weeks, minutes, level, seed, created_at) "
        "VALUES (?, ?, ?, ?, ?, ?, ?)",
        (student_id, start_on, weeks, minutes, level, seed, now()),
    )
    return int(done.lastrowid or 0)


def find_plan(db: Connection, student_id: int) -> PlanRow | None:
    """The plan that holds for a student; None where there is none."""
    row = db.execute(
        "SELECT * FROM plan WHERE student_id = ? ORDER BY id DESC LIMIT 1", (student_id,)
    ).fetchone()
    return None if row is None else PlanRow(**dict(row))


def number_of_plans(db: Connection, student_id: int) -> int:
    """How many plans a student has had, with the one that holds."""
    found = db.execute("SELECT count(*) FROM plan WHERE student_id = ?", (student_id,))
    return int(found.fetchone()[0])


def delete_plan(db: Connection, plan_id: int) -> None:
    """Take a plan back with its ticks: the one before holds again."""
    db.execute("DELETE FROM plan WHERE id = ?", (plan_id,))


def select_ticks(db: Connection, plan_id: int) -> dict[tuple[int, str], bool]:
    """What was ticked (true) or taken off (false) by hand, by day of the plan and item."""
    rows = db.execute("SELECT day, item, ticked FROM plan_tick WHERE plan_id = ?", (plan_id,))
    return {(row["day"], row["item"]): bool(row["ticked"]) for row in rows}


def set_tick(db: Connection, plan_id: int, day: int, item: str, *, ticked: bool | None) -> None:
    """Tick something by hand or take its tick off; None: as the takes have it."""
    db.execute(
        "DELETE FROM plan_tick WHERE plan_id = ? AND day = ? AND item = ?", (plan_id, day, item)
    )
    if ticked is not None:
        db.execute("INSERT INTO plan_tick VALUES (?, ?, ?, ?)", (plan_id, day, item, int(ticked)))
