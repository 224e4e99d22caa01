/* pulse.h: the units of a bar, from the whole of it down to parts of a beat. */
#ifndef NOTATE_PULSE_H
#define NOTATE_PULSE_H

#include "notate/written.h"

enum {
    MUTA_UNIT_PARTS = 64
};

/* A stretch of the bar that a listener feels as one. */
typedef struct muta_unit {
    muta_fraction start;
    muta_fraction length;
    size_t first; /* its groups in the pulse; */
    size_t count; /* 0: it is a part of a beat */
} muta_unit;

/* The whole bar. */
muta_unit muta_pulse_root(const muta_pulse *pulse);
/* Its parts, at most MUTA_UNIT_PARTS; returns how many. */
size_t muta_unit_divide(const muta_pulse *pulse, const muta_unit *unit, muta_unit *into);
muta_fraction muta_unit_end(const muta_unit *unit);
/* Whether a note is a half, a quarter, an eighth ... of a beat, or a whole one, from where such a
 * part begins: then it fits, which is quickly seen. */
bool muta_pulse_holds(const muta_pulse *pulse, muta_fraction from, muta_fraction to);
/* Whether a note may last from one moment of the unit to another without hiding a beat. */
bool muta_unit_fits(const muta_pulse *pulse, const muta_unit *unit, muta_fraction from,
                    muta_fraction to);

#endif
