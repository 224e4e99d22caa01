/* recast.c: chord symbols that go along into another mode. */
#include "musicxml/patch.h"
#include "musicxml/rewrite.h"
#include "musicxml/symbol.h"
#include <string.h>

/* The degrees of the major scale on the line of fifths, the tonic 0, and in semitones. */
static const int8_t natural[] = {0, 2, 4, -1, 1, 3, 5};
static const int8_t semitones[] = {0, 2, 4, 5, 7, 9, 11};

/* A scale re-cast into another one, on a tonic. */
struct recast {
    muta_scale from;
    muta_scale to;
    int32_t tonic;    /* on the line of fifths */
    bool has_leading; /* the chord is one of the dominant's, which have the leading tone */
};

/* What a place on the line of fifths becomes. */
static int32_t moved(const struct recast *recast, int32_t fifths)
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

/* The kind whose tones these are, on the line of fifths; NULL when there is none. */
static const muta_chord_row *row_of(const int32_t *tones, size_t count)
{
    for (int kind = 0; kind < MUTA_CHORD_KINDS; kind++) {
        const muta_chord_row *const row = muta_chord_row_of((muta_chord_kind)kind);
        bool same = row->count == count;
        for (size_t i = 0; same && i < count; i++)
            same = tones[i] - tones[0] == row->fifths[i];
        if (same)
            return row;
    }
    return NULL;
}

static const muta_chord_row *row_named(const char *name)
{
    muta_chord_kind kind;

    return muta_chord_find(name, &kind) ? muta_chord_row_of(kind) : NULL;
}

static muta_status put_class(muta_tree *tree, muta_node harmony, muta_name holder, muta_name step,
                             muta_name alter, int32_t fifths)
{
    const muta_node node = muta_tree_child(tree, harmony, holder);

    return node ? muta_patch_pitch(tree, node, step, alter, muta_fifths_pitch(fifths, 4)) : MUTA_OK;
}

/* A printed kind of its own would no longer be true; a frame neither. */
static muta_status put_kind(muta_tree *tree, muta_node harmony, const char *name)
{
    const muta_node kind = muta_tree_child(tree, harmony, N_KIND);
    const muta_node frame = muta_tree_child(tree, harmony, N_FRAME);

    if (muta_names_leaf_is(tree, kind, name))
        return MUTA_OK;
    muta_tree_drop_attribute(tree, kind, N_TEXT);
    if (frame)
        muta_tree_remove(tree, harmony, frame);
    return muta_tree_set_text(tree, kind, name);
}

static muta_status recast_symbol(muta_score *score, const muta_harmony *harmony,
                                 struct recast *recast)
{
    muta_tree *const tree = &score->tree;
    int32_t tones[MUTA_CHORD_MOST];
    muta_symbol symbol;

    if (!muta_symbol_read(score, harmony, &symbol))
        return MUTA_OK;
    const muta_chord_row *const row = row_named(symbol.kind);
    const int32_t degree = symbol.root - recast->tonic;
    recast->has_leading = degree == 1 || degree == 5;
    MUTA_TRY(put_class(tree, harmony->node, N_BASS, N_BASS_STEP, N_BASS_ALTER,
                       moved(recast, symbol.bass)));
    MUTA_TRY(put_class(tree, harmony->node, N_ROOT, N_ROOT_STEP, N_ROOT_ALTER,
                       moved(recast, symbol.root)));
    for (size_t i = 0; row && i < row->count; i++)
        tones[i] = moved(recast, symbol.root + row->fifths[i]);
    const muta_chord_row *const now = row ? row_of(tones, row->count) : NULL;
    return now ? put_kind(tree, harmony->node, now->name) : MUTA_OK;
}

/* The tonic under a symbol, as its part writes it, and the scale that it had. */
static bool find_from(const muta_part *part, const muta_harmony *harmony, const muta_passage *of,
                      uint32_t index, struct recast *recast)
{
    const muta_fraction time = muta_fraction_subtract(
        muta_fraction_add(muta_part_bar_start(of->score, part, harmony->at.bar), harmony->at.onset),
        muta_passage_start(of, index));
    const muta_passage_key_entry *found = NULL;

    for (size_t i = 0; i < of->keys.count; i++)
        if (of->keys.at[i].part == index && muta_fraction_compare(of->keys.at[i].onset, time) <= 0)
            found = &of->keys.at[i];
    if (!found)
        return false;
    /* Its signature is the new one already, and its tonic what it was. */
    const muta_pitch tonic = muta_key_tonic(found->key);
    const int32_t sounds = muta_interval_fifths(muta_part_transposition_at(part, harmony->at));
    recast->tonic = natural[muta_pitch_step(tonic)] + 7 * muta_pitch_sharps(tonic) - sounds;
    return muta_scale_find(found->recast == of->scale.fifths ? "major" : "natural-minor",
                           &recast->from);
}

muta_status muta_recast_symbols(muta_score *score, const muta_passage *passage)
{
    for (uint32_t i = 0; i < score->part_count && passage->keys_recast; i++) {
        const muta_part *const part = &score->parts[i];
        for (size_t j = 0; j < part->harmonies.count; j++) {
            const muta_harmony *const harmony = &part->harmonies.at[j];
            struct recast recast = {.to = passage->scale};
            if (muta_moment_compare(harmony->at, passage->from) >= 0 &&
                muta_moment_compare(harmony->at, passage->to) < 0 &&
                find_from(part, harmony, passage, i, &recast))
                MUTA_TRY(recast_symbol(score, harmony, &recast));
        }
    }
    return MUTA_OK;
}
