/* ground.h: historic grounds: basses and chords that go round. Source: shared/grounds.txt. */
#ifndef THEORY_GROUND_H
#define THEORY_GROUND_H

#include "theory/chord.h"

enum {
    MUTA_GROUND_CHORDS = 48
};

/* One chord of a ground. */
typedef struct muta_ground_chord {
    muta_chord value; /* its root above the tonic */
    int32_t low;      /* the bass, the same way */
    uint8_t bar;      /* counted from 0 */
    uint8_t part;     /* of the bar, counted from 0, */
    uint8_t parts;    /* of so many */
} muta_ground_chord;

typedef struct muta_ground {
    muta_ground_chord chords[MUTA_GROUND_CHORDS];
    size_t count;
    uint8_t bars;
} muta_ground;

/* The ground of this name; false when there is none. */
bool muta_ground_find(const char *name, muta_ground *ground);

#endif
