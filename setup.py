"""Builds in a folder of its own, so that an installation leaves nothing in the checkout.

A build folder that stays would also bring back modules that were deleted since.
"""

import atexit
import shutil
import tempfile

from setuptools import setup

scratch = tempfile.mkdtemp(prefix="throwcount-build-")
atexit.register(shutil.rmtree, scratch, ignore_errors=True)
setup(options={"build": {"build_base": scratch}, "egg_info": {"egg_base": scratch}})
