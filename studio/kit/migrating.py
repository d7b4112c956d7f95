"""What a new database is made by: all tables of an app as they are in the end, in one operation."""

from collections.abc import Sequence

from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.migrations.operations import AddField, AddIndex, CreateModel
from django.db.migrations.operations.base import Operation
from django.db.migrations.state import ProjectState


class AllAtOnce(Operation):
    """Several operations that make new tables, at once.

    One after the other, Django works all models that are tied to a table out anew for each of them: two thirds of the
    time in which a first start makes its database.
    """

    reversible = False

    def __init__(self, operations: Sequence[CreateModel | AddField | AddIndex]) -> None:
        self.operations = operations

    def state_forwards(self, app_label: str, state: ProjectState) -> None:
        # The models that are worked out are let go of, or each operation would renew them.
        state.__dict__.pop("apps", None)
        for operation in self.operations:
            operation.state_forwards(app_label, state)

    def database_forwards(
        self,
        app_label: str,
        schema_editor: BaseDatabaseSchemaEditor,
        from_state: ProjectState,
        to_state: ProjectState,
    ) -> None:
        for operation in self.operations:
            if isinstance(operation, CreateModel):
                schema_editor.create_model(to_state.apps.get_model(app_label, operation.name))

    def describe(self) -> str:
        return "Make all tables"
