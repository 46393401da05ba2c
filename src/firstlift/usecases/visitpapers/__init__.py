"""The papers of a job from the register: gather what they need, build, typeset; and a visit's data to hand on."""
