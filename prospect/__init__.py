"""Claywalk: a geology-aware prospecting map for people who dig their own clay."""

from prospect.guard.drivers import restrict_drivers

restrict_drivers()
