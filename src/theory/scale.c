/* scale.c: scales, from the table. */
#include "theory/scale.h"
#include "theory/table.h"
#include <string.h>

static const int8_t major[] = {0, 2, 4, 5, 7, 9, 11};

bool muta_mode_is_minor(muta_mode mode)
{
    return mode == MUTA_MINOR || mode == MUTA_AEOLIAN || mode == MUTA_DORIAN ||
           mode == MUTA_PHRYGIAN || mode == MUTA_LOCRIAN;
}

/* Reads `b3`, `#4`, `1`; what stands behind it, NULL when there is no degree any more. */
static const char *read_degree(const char *at, const char *end, muta_scale_tone *tone)
{
    int8_t alter = 0;

    for (; at < end && (*at < '1' || *at > '7'); at++)
        alter = (int8_t)(*at == 'b' ? alter - 1 : *at == '#' ? alter + 1 : 0);
    if (at == end)
        return NULL;
    *tone = (muta_scale_tone){.degree = (int8_t)(*at - '1')};
    tone->semitones = (int8_t)(major[tone->degree] + alter);
    return at + 1;
}

static muta_scale_tone *add(muta_scale *scale, const muta_scale_tone *tone)
{
    for (size_t i = 0; i < scale->count; i++)
        if (scale->tones[i].degree == tone->degree && scale->tones[i].semitones == tone->semitones)
            return &scale->tones[i];
    if (scale->count == MUTA_SCALE_TONES)
        return NULL;
    scale->tones[scale->count] = *tone;
    return &scale->tones[scale->count++];
}

enum {
    UP,
    DOWN,
    REST
};

static void read_way(muta_scale *scale, muta_text cell, int way)
{
    const char *const end = cell.at + cell.length;
    muta_scale_tone read;

    for (const char *at = cell.at; (at = read_degree(at, end, &read));) {
        muta_scale_tone *const tone = add(scale, &read);
        if (!tone)
            return;
        tone->goes_up = tone->goes_up || way == UP;
        tone->goes_down = tone->goes_down || way == DOWN;
        tone->rests = tone->rests || way == REST;
    }
}

static void read_signature(muta_scale *scale, muta_text fifths, muta_text mode)
{
    char name[24] = "";

    scale->has_signature = fifths.length > 0 && mode.length < sizeof name;
    if (!scale->has_signature)
        return;
    memcpy(name, mode.at, mode.length);
    scale->fifths = (fifths.at[0] == '-' ? -1 : 1) * (fifths.at[fifths.length - 1] - '0');
    scale->has_signature = muta_mode_parse(name, &scale->mode);
}

bool muta_scale_find(const char *name, muta_scale *scale)
{
    const char *at = muta_table_scales;
    muta_row row;

    while (muta_table_next(&at, &row)) {
        if (!muta_text_is(row.cells[0], name))
            continue;
        *scale = (muta_scale){.count = 0};
        read_way(scale, row.cells[1], UP);
        read_way(scale, row.cells[2].length ? row.cells[2] : row.cells[1], DOWN);
        read_way(scale, row.cells[5], REST);
        read_signature(scale, row.cells[3], row.cells[4]);
        return true;
    }
    return false;
}

const muta_scale_tone *muta_scale_tone_at(const muta_scale *scale, int degree, int semitones)
{
    for (size_t i = 0; i < scale->count; i++)
        if (scale->tones[i].degree == degree && scale->tones[i].semitones == semitones)
            return &scale->tones[i];
    return NULL;
}

muta_interval muta_scale_interval(const muta_scale_tone *tone)
{
    return (muta_interval){tone->degree, tone->semitones * MUTA_SEMITONE};
}

size_t muta_scale_recast(const muta_scale *from, const muta_scale *to, muta_interval above,
                         muta_interval becomes[2], const muta_scale_tone *members[2])
{
    const int semitones = above.size / MUTA_SEMITONE;
    int32_t away = above.size;
    size_t count = 0;

    members[0] = muta_scale_tone_at(to, above.steps, semitones);
    if (members[0] && !muta_scale_tone_at(from, above.steps, semitones)) {
        becomes[0] = above;
        return 1;
    }
    for (size_t i = 0; i < from->count; i++)
        if (from->tones[i].degree == above.steps)
            away = above.size - from->tones[i].semitones * MUTA_SEMITONE;
    for (size_t i = 0; i < to->count && count < 2; i++) {
        if (to->tones[i].degree != above.steps)
            continue;
        becomes[count] = muta_scale_interval(&to->tones[i]);
        becomes[count].size += away;
        members[count++] = away == 0 ? &to->tones[i] : NULL;
    }
    return count;
}
