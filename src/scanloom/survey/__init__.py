"""The survey: all stages for every rig, what was accepted, what went stale, what a change would do."""

from scanloom.survey.acceptance import mark_of
from scanloom.survey.run import RigSurvey, Survey, survey_plan
from scanloom.survey.trial import Trial, try_patches

__all__ = ["RigSurvey", "Survey", "Trial", "mark_of", "survey_plan", "try_patches"]
