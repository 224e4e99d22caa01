/*
 * seats.h: where an accompaniment is played: the hands of a keyboard, or the parts of an ensemble.
 */
#ifndef PASSES_SEATS_H
#define PASSES_SEATS_H

#include "passes/pass.h"
#include "score/texture.h"
#include "theory/part_writing.h"

/* One hand, or one player. */
typedef struct muta_seat {
    uint32_t part;
    uint8_t staff;
    muta_pitch low; /* of its instrument, as far as that is known */
    muta_pitch high;
} muta_seat;

typedef enum {
    MUTA_SEATS_TWO_HANDS, /* the lower one first */
    MUTA_SEATS_ONE_HAND,
    MUTA_SEATS_PLAYERS, /* the lowest first */
} muta_seating;

typedef struct muta_seats {
    muta_seating seating;
    muta_seat at[MUTA_VOICES];
    uint8_t count;
} muta_seats;

/*
 * Finds the seats of the accompaniment: what is not the tune, of the part that plays most chords,
 * else of all parts; or of one part.
 * @param only   an address of a part and, if need be, its staff; NULL for none
 * @param seats  [out] none when there is no accompaniment
 * @return MUTA_OK, MUTA_E_USAGE or MUTA_E_DATA for the address
 */
muta_status muta_seats_find(const muta_passage *passage, const char *only, muta_seats *seats,
                            muta_diags *diags) MUTA_CHECK;
/* The two hands of a part that was made. */
void muta_seats_of_made(const muta_passage *passage, muta_seats *seats);
/* Whether a line is played at one of the seats and is not the tune. */
bool muta_seats_have(const muta_seats *seats, const muta_line *line);

#endif
