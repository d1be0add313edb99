"""Keeping the kernel's chatter off the terminal."""

from __future__ import annotations

from OCP.Message import Message, Message_Gravity


def hush() -> None:
    """Nothing below an alarm is printed by the kernel's readers and writers."""
    for printer in Message.DefaultMessenger_s().Printers():
        printer.SetTraceLevel(Message_Gravity.Message_Alarm)
