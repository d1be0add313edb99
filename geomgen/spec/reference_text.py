"""The parts of the spec reference that are prose."""

from __future__ import annotations

HEAD = """\
# Spec reference

One YAML file is one manifold. `geomgen new NAME` writes a commented one to start from,
`geomgen check SPEC` says everything that is wrong with it in one run: file, line and column,
what was found, what is allowed, what to do. The first line of a spec names the JSON Schema
`geomgen.schema.json`, so that an editor completes and checks keys while you type.

This file is written from the program's own models. A test fails when it is out of date.
"""

UNITS = """\
## Units

Bare numbers are **mm, degrees, degC, bar, cc and rpm**. Any quantity may carry its unit:
`1.75 in`, `1-3/4 in`, `900 K`, `2 l`, `1.1 rad`. Inches may be fractions, if the unit stands
behind them. Put quotes round a quantity that ends in an inch sign: `'3/8 "'`.

`16 ga` is refused: gauge means different walls for tube (16 BWG is 1.65 mm) and for sheet.
Tube is always OD and wall; the ID follows.

Text and numbers follow YAML 1.2: `no` and `1:30` are text, `010` is ten, `1e3` is a thousand.
Tags, merge keys and several documents in a file are refused.
"""

FRAMES = """\
## Frames and datums

Stand in front of the head, outside the engine, and look at the ports.

- **Origin**: the centre of cylinder 1's port, on the flange's finished gasket face.
- **z**: out of the head, towards you, the way the gas leaves. z = 0 is the gasket face.
- **y**: up the head face.
- **x**: to your right.

The compressed gasket puts the head face, the studs' roots and the block **behind** z = 0, by
its thickness. Obstacles, collector and studs are all given in this frame. Where cylinder 2
lies to the left of cylinder 1, `pitch` is negative. Flange drawings are seen from the same
side, the tube side, so their coordinates are x and y.

`vertical` says which way is up in this frame when the engine is in the car; a head whose
face leans back 20 degrees has another vertical than `[0, 1, 0]`.

**Length** runs along the centreline, from z = 0 (or from the valve, `length_from: valve`) to
the first join, where two neighbouring bores meet (or to the collector's `entry` face, or to the
`throat`). Reports print all of them, so that a number can be compared with anybody's.

**Collector**: `at` is the collector's axis at its entry face, `direction` the way the gas goes
there, `merge_angle` is from a tube's axis to the collector's axis: half the included angle.
"""

MEASURED = """\
## Positions people can measure

Any point `[x, y, z]` may be given by tape instead, as its distances from three to six studs
that form a triangle:

```yaml
at: {tape: {studs: {1a: 412, 2b: 380, 4b: 505}, side: out, error: 2}}
```

Studs round the ports are called `1a`, `1b`, `2a`, ... by cylinder and in the order of
`at_each_port`; studs given one by one are `s1`, `s2`, ... or have a `name`. The tape begins at
the stud's middle on the head face, or at its `tip`. Three distances leave two points, one on
each `side` of the studs. Tapes that miss one another by more than their `error` are refused,
and the error that the point then has is reported.

Any direction may be given by an angle finder against `vertical`:

```yaml
direction: {towards: [1, 0, 0], below_level: 12}
```
"""

TAKE = """\
## Blocks from other files

Any mapping may take its keys from a named block of another file. Keys written beside `take`
win over the block's. In a list, a block that is a list is put in its place.

```yaml
heads:
  - take: ports/brackenhall.yaml#head
    gasket: {thickness: 0.8}        # wins over the block's gasket
obstacles:
  - take: cars/sprint.yaml#bay      # a list of obstacles
  - {name: dipstick, kind: head, cylinder: {from: [0, 60, 20], to: [0, 200, 40], diameter: 10}}
```

The file is named from the folder of the spec, lies in it or below it, and maps names to
blocks. A block may take other blocks, never itself.
"""

SOLIDS = """\
## Solids from STEP files

An obstacle may be all closed solids of a STEP file, in the spec's folder or below it:

```yaml
obstacles:
  - name: gearbox
    kind: block
    solid: {file: parts/gearbox.step, at: [330, -150, 60], x: [1, 0, 0], z: [0, 0, 1]}
```

`at` is where the file's origin goes in the head frame, `x` and `z` which way its axes point; its
own unit is read. `geomgen build` and `geomgen route` measure it once and keep that beside it, as
`parts/gearbox.step.mesh`; without that `geomgen check` says not-run for all that depends on it.
"""

STANDING = """\
## What stands already

A solved layout is kept in `NAME.lock.yaml` beside the spec. Two sections keep parts of it, or of
what is on the bench, while everything else is laid out anew to the same lengths:

```yaml
pins:                           # parts of the layout in the lock
  - {runner: 2}                 # a whole runner
  - {runner: 3, bend: 1}        # numbers as in the bend table
  - {runner: 1, straight: 2}    # the straight before bend 2
bench:                          # what was really tacked, from the transition outwards
  - runner: 4
    tacked:
      - {straight: 52.5}
      - {bend: 67.5, angle: 81.5, clock: -64}
```

A pin means the piece that it was put on for as long as that runner's pins are left as they are,
even when a new layout gives the piece another number; once they are edited, the newest bend
table counts. What is tacked may have any angle, clock and radius; a radius that is not on the
shelf only warns. Pins and bench are among the inputs of the lock: `geomgen build` solves again
when they change, and `geomgen route` does so and shows what moved.
"""
