"""What a person may ask for on the page of jobs."""

from wtforms import SelectField
from wtforms.validators import InputRequired

from labsys.forms import LabForm


class AskForm(LabForm):
    """One press of a button; the choices are the kinds that have one."""

    kind = SelectField("What is to be done", [InputRequired("Choose what is to be done.")])
