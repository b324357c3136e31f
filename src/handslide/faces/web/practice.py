"""Practice material: what there is, sheets, moved parts, sounds, exercises of one's own."""

from starlette.routing import BaseRoute

from handslide.faces.web import (
    drillpages,
    lessonpages,
    movepages,
    ownexercises,
    practiceroom,
    practicesound,
)

routes: list[BaseRoute] = [
    *practiceroom.routes,
    *drillpages.routes,
    *lessonpages.routes,
    *movepages.routes,
    *practicesound.routes,
    *ownexercises.routes,
]
