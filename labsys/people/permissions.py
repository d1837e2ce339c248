"""What each role may do: one enum, one table."""

from enum import StrEnum

from labsys.people.models import Person, Role


class Permission(StrEnum):
    """One thing a person may do; the value finishes the sentence "You may not …"."""

    SEE_LAB = "see the lab"
    LOG_USE = "log a use"
    SEE_USES = "see who put what through the baths"
    LOG_TALLY = "log the work of a class"
    TEST_BATH = "test a bath"
    KEEP_BATHS = "mix, replenish or dump baths"
    KEEP_STOCK = "keep the chemical store"
    CONFIRM_PRODUCT = "confirm the hazards of a product"
    POUR_WASTE = "record a pour into a waste container"
    KEEP_WASTE = "open or hand over waste containers"
    RELEASE_WASTE = "release what is in quarantine"
    KEEP_SEWER = "keep sewer consents or answer for a discharge"
    SEE_WASTE_LOG = "see the waste log"
    SEE_RECORD = "see the record"
    SEE_CONTACT = "see who was in contact with a substance"
    SEE_CONFIDENCES = "see what people told the safety adviser in confidence"
    ISSUE_REGISTER = "issue the register, the first-aid card or label sheets"
    BOOK_STATION = "book a place"
    BOOK_CLASS = "book a class"
    BOOK_FOR_OTHERS = "book for somebody else, or note their arrival"
    KEEP_PLACES = "change places and opening hours"
    KEEP_EQUIPMENT = "check equipment or clear its faults"
    SEE_HOLDERS = "see who else holds which induction or competence"
    SIGN_OFF = "sign somebody off"
    KEEP_INDUCTIONS = "change inductions and what needs them"
    NAME_FIRST_COMPETENT = "name who is the first to hold a competence"
    REVOKE_COMPETENCE = "revoke a competence that somebody else granted"
    KEEP_ASSESSMENTS = "write assessments and their actions"
    APPROVE_ASSESSMENT = "approve an assessment"
    DECLARE_CHEMICAL = "declare a chemical of your own"
    DECIDE_CHEMICAL = "decide about chemicals that people bring"
    REPORT_INCIDENT = "report an incident"
    KEEP_INCIDENTS = "close an incident"
    KEEP_MEMBERSHIP = "keep the memberships"
    KEEP_DEVICES = "enrol shared tablets, or issue cards"
    SEE_MAIL = "see the outbox"
    SEE_JOBS = "see what the lab does in the background"
    KEEP_PEOPLE = "invite people and change their roles"
    KEEP_LAB = "change the lab's settings"


_MEMBER = frozenset(
    {
        Permission.SEE_LAB,
        Permission.LOG_USE,
        Permission.POUR_WASTE,
        Permission.BOOK_STATION,
        Permission.REPORT_INCIDENT,
        Permission.DECLARE_CHEMICAL,
    }
)

GRANTED: dict[Role, frozenset[Permission]] = {
    Role.MEMBER: _MEMBER,
    Role.INSTRUCTOR: _MEMBER
    | {
        Permission.SEE_USES,
        Permission.SEE_HOLDERS,
        Permission.LOG_TALLY,
        Permission.TEST_BATH,
        Permission.BOOK_CLASS,
        Permission.BOOK_FOR_OTHERS,
        Permission.SIGN_OFF,
        Permission.KEEP_MEMBERSHIP,
    },
    Role.TECHNICIAN: _MEMBER
    | {
        Permission.SEE_USES,
        Permission.SEE_HOLDERS,
        Permission.LOG_TALLY,
        Permission.TEST_BATH,
        Permission.KEEP_BATHS,
        Permission.KEEP_STOCK,
        Permission.KEEP_WASTE,
        Permission.RELEASE_WASTE,
        Permission.SEE_WASTE_LOG,
        Permission.ISSUE_REGISTER,
        Permission.BOOK_CLASS,
        Permission.BOOK_FOR_OTHERS,
        Permission.KEEP_PLACES,
        Permission.KEEP_EQUIPMENT,
        Permission.SIGN_OFF,
        Permission.KEEP_ASSESSMENTS,
        Permission.DECIDE_CHEMICAL,
        Permission.KEEP_MEMBERSHIP,
    },
    Role.SAFETY_ADVISER: frozenset(
        {
            Permission.SEE_LAB,
            Permission.SEE_USES,
            Permission.SEE_HOLDERS,
            Permission.CONFIRM_PRODUCT,
            Permission.RELEASE_WASTE,
            Permission.KEEP_SEWER,
            Permission.SEE_WASTE_LOG,
            Permission.SEE_RECORD,
            Permission.SEE_CONTACT,
            Permission.SEE_CONFIDENCES,
            Permission.ISSUE_REGISTER,
            Permission.SIGN_OFF,
            Permission.KEEP_INDUCTIONS,
            Permission.REVOKE_COMPETENCE,
            Permission.KEEP_ASSESSMENTS,
            Permission.APPROVE_ASSESSMENT,
            Permission.REPORT_INCIDENT,
            Permission.KEEP_INCIDENTS,
            Permission.KEEP_EQUIPMENT,
            Permission.DECIDE_CHEMICAL,
            Permission.SEE_JOBS,
        }
    ),
    Role.MANAGER: frozenset(
        {
            Permission.SEE_LAB,
            Permission.SEE_USES,
            Permission.SEE_HOLDERS,
            Permission.KEEP_STOCK,
            Permission.KEEP_WASTE,
            Permission.RELEASE_WASTE,
            Permission.KEEP_SEWER,
            Permission.SEE_WASTE_LOG,
            Permission.SEE_RECORD,
            Permission.ISSUE_REGISTER,
            Permission.BOOK_STATION,
            Permission.BOOK_FOR_OTHERS,
            Permission.KEEP_PLACES,
            Permission.KEEP_EQUIPMENT,
            Permission.KEEP_INDUCTIONS,
            Permission.NAME_FIRST_COMPETENT,
            Permission.REVOKE_COMPETENCE,
            Permission.KEEP_ASSESSMENTS,
            Permission.APPROVE_ASSESSMENT,
            Permission.REPORT_INCIDENT,
            Permission.DECLARE_CHEMICAL,
            Permission.KEEP_MEMBERSHIP,
            Permission.KEEP_DEVICES,
            Permission.SEE_MAIL,
            Permission.SEE_JOBS,
            Permission.KEEP_PEOPLE,
            Permission.KEEP_LAB,
        }
    ),
}


NEVER_STOOD_IN_FOR = frozenset({Permission.SEE_CONFIDENCES})  # people told the safety adviser, and nobody else


class NotPermitted(Exception):
    """The person's roles do not allow this."""

    def __init__(self, permission: Permission):
        super().__init__(f"You may not {permission}.")
        self.permission = permission


def roles_that_may(permission: Permission) -> frozenset[Role]:
    """The roles that grant a permission."""
    return frozenset(role for role, granted in GRANTED.items() if permission in granted)


def may(person: Person, permission: Permission) -> bool:
    """Whether the person's roles grant this, or they stand in for whoever will hold one that does."""
    if person.confined_to is not None and permission not in person.confined_to:
        return False
    return person.is_active and (bool(person.roles & roles_that_may(permission)) or stands_in(person, permission))


def stands_in(person: Person, permission: Permission) -> bool:
    """Whether a manager may do what none of their roles grants, since nobody else here holds one that does.

    What needs two people is no matter of roles: their own assessment, say, they approve as anybody does, with a reason.
    """
    granting = roles_that_may(permission)
    return (
        Role.MANAGER in person.roles
        and permission not in NEVER_STOOD_IN_FOR
        and person.roles.isdisjoint(granting)
        and person.roles_of_others.isdisjoint(granting)
    )


def stands_in_for(person: Person) -> list[Role]:
    """The roles that a manager stands in for now, the widest first; one whose work another covers is left out."""
    gained = {permission for permission in Permission if stands_in(person, permission)}
    roles: list[Role] = []
    for role in sorted(Role, key=lambda role: len(GRANTED[role] & gained), reverse=True):
        if GRANTED[role] & gained:
            roles.append(role)
            gained -= GRANTED[role]
    return roles


def require(person: Person, permission: Permission) -> None:
    """Raise NotPermitted unless the person may do this."""
    if not may(person, permission):
        raise NotPermitted(permission)


def require_any(person: Person, *permissions: Permission) -> None:
    """Raise NotPermitted, naming the first, unless the person may do at least one of these."""
    if not any(may(person, permission) for permission in permissions):
        raise NotPermitted(permissions[0])
