"""Who holds which right, written out once more, apart from the code that grants it."""

from tracker.accounts.access import Right
from tracker.accounts.models import Role

A, T, I, O = Role.ADMINISTRATOR, Role.TECHNICIAN, Role.INSPECTOR, Role.OWNER  # noqa: E741  # columns

HOLDERS: dict[Right, set[Role]] = {
    Right.SEE_ENGINES: {A, T, I, O},
    Right.SEE_NOTICES: {A, T, I, O},
    Right.SEE_OWNERS: {A, T, I},
    Right.ADD_READING: {A, T, I, O},
    Right.ADD_FUEL: {A, T, I, O},
    Right.EDIT_FLEET: {A, T, I},
    Right.IMPORT_FLEET: {A, T, I},
    Right.RECORD_WORK: {A, T, I},
    Right.ANSWER: {A, T, I},
    Right.DECLINE: {A, T, I},
    Right.ENTER_ALTERNATIVES: {A, T, I},
    Right.ENTER_NOTICES: {A, T, I},
    Right.CONFIRM_NOTICES: {A, I},
    Right.ANSWER_ENQUIRIES: {A, T, I},
    Right.SEND_MESSAGES: {A, T, I},
    Right.SET_PREFERENCES: {A, T, I, O},
    Right.MANAGE_STATION: {A},
}
