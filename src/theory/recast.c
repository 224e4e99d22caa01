/* recast.c: places on the line of fifths, and chords, re-cast into another scale. */
#include "theory/recast.h"

/* The degrees of the major scale on the line of fifths, the tonic 0, and in semitones. */
static const int8_t natural[] = {0, 2, 4, -1, 1, 3, 5};
static const int8_t semitones[] = {0, 2, 4, 5, 7, 9, 11};

void muta_recast_for(muta_recast *recast, int32_t root)
{
    const int32_t degree = root - recast->tonic;

    recast->has_leading = degree == 1 || degree == 5;
}

int32_t muta_recast_class(const muta_recast *recast, int32_t fifths)
{
    const int32_t above = fifths - recast->tonic;
    const int32_t degree = ((above * 4) % 7 + 7) % 7;
    const int32_t alter = (above - natural[degree]) / 7;
    const muta_interval interval = {degree, (semitones[degree] + alter) * MUTA_SEMITONE};
    const muta_scale_tone *members[2];
    muta_interval becomes[2];
    const size_t count = muta_scale_recast(&recast->from, &recast->to, interval, becomes, members);

    if (count == 0)
        return fifths;
    /* Of two forms the dominant's chords have the raised one. */
    const bool second = count > 1 && (becomes[1].size > becomes[0].size) == recast->has_leading;
    int32_t now = becomes[second].size / MUTA_SEMITONE - semitones[degree];
    /* In the minors only the dominant's chords have the raised seventh. */
    if (degree == 6 && !recast->has_leading && recast->to.mode == MUTA_MINOR && alter == 0 &&
        now == 0)
        now = -1;
    return recast->tonic + natural[degree] + 7 * now;
}

const muta_chord_row *muta_recast_kind(const muta_recast *recast, int32_t root,
                                       const muta_chord_row *row)
{
    int32_t tones[MUTA_CHORD_MOST];
    muta_chord_kind kind;

    for (uint8_t i = 0; i < row->count; i++)
        tones[i] = muta_recast_class(recast, root + row->fifths[i]);
    return muta_chord_kind_of(tones, row->count, &kind) ? muta_chord_row_of(kind) : NULL;
}
