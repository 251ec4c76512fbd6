"""Search for parts: which resistors put a channel, or all of them at once, on its levels."""

from __future__ import annotations

from scanloom.stages.levels.search.answer import FoundNetwork, Leg, NoNetwork, PartsProposal, Trade
from scanloom.stages.levels.search.explain import propose_parts
from scanloom.stages.levels.search.gather import BoardParts, board_parts, joint_patches
from scanloom.stages.levels.search.joint import propose_board, propose_joint
from scanloom.stages.levels.search.joint_request import (
    CurrentCap,
    JointChannel,
    JointProposal,
    JointRequest,
    JointSync,
    NoJointSet,
)
from scanloom.stages.levels.search.request import PartsRequest, usual_window

__all__ = [
    "BoardParts",
    "CurrentCap",
    "FoundNetwork",
    "JointChannel",
    "JointProposal",
    "JointRequest",
    "JointSync",
    "Leg",
    "NoJointSet",
    "NoNetwork",
    "PartsProposal",
    "PartsRequest",
    "Trade",
    "board_parts",
    "joint_patches",
    "propose_board",
    "propose_joint",
    "propose_parts",
    "usual_window",
]
