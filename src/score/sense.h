/*
 * sense.h: what a moment of a passage is to a musician. study hears the score once and lays what it
 * heard into the passage; passes ask here, by time.
 *
 *     a moment    its chord, the key that is heard, and how surely           muta_sense_at
 *     its scale   the key's, altered by the chord that sounds; in the minor  muta_sense_step,
 *                 the sixth and seventh by chord and direction               _neighbour, _smooth
 *     a tone      its degree                                                 muta_key_above
 *                 whether it is the chord's                                  muta_passage_chord_has
 *                 its role: tune, companion of the tune, bass, or none       muta_tone.is_tune ...
 *     an event    the weight of its moment, its phrase, whether it ends it,  muta_event.level,
 *                 how far the reduction keeps it                             .phrase, .closes,
 * .depth
 *
 *                 what it returns from                                       muta_sense_returns
 *
 * Where study is not sure, the signature's key counts.
 */
#ifndef SCORE_SENSE_H
#define SCORE_SENSE_H

#include "score/texture.h"

typedef struct muta_sense {
    const muta_passage_chord *chord; /* NULL: none is known */
    muta_key key;                    /* as it sounds */
    bool is_sure;                    /* the key was heard; else the signature tells it */
} muta_sense;

/* A moment, for the part and staff of a tone. Borrows: the passage first read. */
muta_sense muta_sense_at(const muta_passage *passage, const muta_tone *tone, muta_fraction time);
/* How a pitch lies above the tonic that is next below it; its steps are its degree, from 0. */
muta_interval muta_key_above(muta_key key, muta_pitch pitch);
/* Whether a pitch, as it sounds, belongs to a chord; true for none. */
bool muta_passage_chord_has(const muta_passage_chord *chord, muta_pitch pitch);
/* The pitch `steps` along the scale: the key's, but where the chord alters a letter, as in the
 * minor its dominant does, as the chord has it. */
muta_pitch muta_sense_step(const muta_sense *sense, muta_pitch pitch, int32_t steps);
/* From chord tone to chord tone; where no chord is known, in thirds. */
muta_pitch muta_sense_chord_step(const muta_sense *sense, muta_pitch pitch, int32_t steps);
/* The neighbour on a side, 1 or -1: below the tonic of a minor key stands its leading tone, unless
 * the chord has the natural seventh. Source: common practice. */
muta_pitch muta_sense_neighbour(const muta_sense *sense, muta_pitch pitch, int32_t side);
/* Raises the seventh of a minor key that goes up to the tonic, and the sixth beside a raised
 * seventh, unless the chord has them natural; the first and the last pitch are given and stay.
 * Source: common practice. */
void muta_sense_smooth(const muta_sense *sense, muta_pitch *pitches, size_t count);

/*
 * What comes back in a line, bar by bar: the same tones for as long at the same places.
 * @param at_any_pitch  three tones and more of a bar count as the same on other steps too
 * @param first  [out] by event of the line, in the arena: the first event of the work that it is,
 * or itself
 */
muta_status muta_sense_returns(const muta_passage *passage, const muta_line *line,
                               bool at_any_pitch, muta_arena *arena, uint32_t **first) MUTA_CHECK;

#endif
