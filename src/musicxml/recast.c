/* recast.c: chord symbols that go along into another mode. */
#include "theory/recast.h"
#include "musicxml/patch.h"
#include "musicxml/rewrite.h"
#include "musicxml/symbol.h"
#include <string.h>

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
                                 const muta_recast *recast)
{
    muta_tree *const tree = &score->tree;
    muta_symbol symbol;

    if (!muta_symbol_read(score, harmony, &symbol))
        return MUTA_OK;
    const muta_chord_row *const row = row_named(symbol.kind);
    MUTA_TRY(put_class(tree, harmony->node, N_BASS, N_BASS_STEP, N_BASS_ALTER,
                       muta_recast_class(recast, symbol.bass)));
    MUTA_TRY(put_class(tree, harmony->node, N_ROOT, N_ROOT_STEP, N_ROOT_ALTER,
                       muta_recast_class(recast, symbol.root)));
    const muta_chord_row *const now = row ? muta_recast_kind(recast, symbol.root, row) : NULL;
    return now ? put_kind(tree, harmony->node, now->name) : MUTA_OK;
}

muta_status muta_symbol_move(muta_score *score, const muta_part *part, const muta_harmony *symbol,
                             bool is_tonal, muta_diags *diags)
{
    /* The modes of the major scale on its degrees, and these on the line of fifths. */
    static const struct {
        const char *mode;
        int32_t fifths;
    } degrees[] = {{"major", 0},      {"dorian", 2},        {"phrygian", 4}, {"lydian", -1},
                   {"mixolydian", 1}, {"natural-minor", 3}, {"locrian", 5}};
    const size_t degree = (size_t)((symbol->moved.steps % 7 + 7) % 7);
    const muta_key_change *const key = muta_part_key_at(part, symbol->at);
    muta_recast recast = {.tonic = key ? key->key.fifths : 0};

    if (!is_tonal)
        return muta_patch_harmony(score, part, symbol, diags);
    if (!muta_scale_find("major", &recast.from) ||
        !muta_scale_find(degrees[degree].mode, &recast.to))
        return MUTA_E_FAULT;
    MUTA_TRY(recast_symbol(score, symbol, &recast));
    const muta_pitch tonic = muta_fifths_pitch(0, 4);
    muta_harmony moved = *symbol;
    moved.moved = muta_pitch_between(tonic, muta_fifths_pitch(degrees[degree].fifths, 4));
    return muta_patch_harmony(score, part, &moved, diags);
}

/* When a symbol counts, from the start of a passage. */
static muta_fraction time_of(const muta_part *part, const muta_harmony *harmony,
                             const muta_passage *of, uint32_t index)
{
    return muta_fraction_subtract(
        muta_fraction_add(muta_part_bar_start(of->score, part, harmony->at.bar), harmony->at.onset),
        muta_passage_start(of, index));
}

/* The tonic under a symbol, as its part writes it, and the scale that it had. */
static bool find_from(const muta_part *part, const muta_harmony *harmony, const muta_passage *of,
                      uint32_t index, muta_recast *recast)
{
    const muta_fraction time = time_of(part, harmony, of, index);
    const muta_passage_key_entry *found = NULL;

    for (size_t i = 0; i < of->keys.count; i++)
        if (of->keys.at[i].part == index && muta_fraction_compare(of->keys.at[i].onset, time) <= 0)
            found = &of->keys.at[i];
    if (!found)
        return false;
    /* Its signature is the new one already, and its tonic what it was. */
    const muta_pitch tonic = muta_key_tonic(found->key);
    const int32_t sounds = muta_interval_fifths(muta_part_transposition_at(part, harmony->at));
    recast->tonic = muta_pitch_fifths(tonic) - sounds;
    return muta_scale_find(found->recast == of->scale.fifths ? "major" : "natural-minor",
                           &recast->from);
}

/* A symbol whose chord the passage knows becomes what that has become; to another tonic it goes
 * with all symbols, later. */
static muta_status put_chord(muta_score *score, const muta_passage *passage, const muta_part *part,
                             const muta_harmony *harmony, const muta_symbol *symbol,
                             const muta_chord *value, int32_t foreign_bass)
{
    muta_tree *const tree = &score->tree;
    const muta_chord_row *const row = muta_chord_row_of(value->kind);
    const int32_t root = value->root - muta_interval_fifths(passage->keys_by) -
                         muta_interval_fifths(muta_part_transposition_at(part, harmony->at));

    MUTA_TRY(put_class(tree, harmony->node, N_BASS, N_BASS_STEP, N_BASS_ALTER,
                       value->bass > 0 ? root + row->fifths[value->bass] : foreign_bass));
    MUTA_TRY(put_class(tree, harmony->node, N_ROOT, N_ROOT_STEP, N_ROOT_ALTER, root));
    return row_named(symbol->kind) ? put_kind(tree, harmony->node, row->name) : MUTA_OK;
}

static muta_status recast_one(muta_score *score, const muta_passage *passage, uint32_t index,
                              const muta_harmony *harmony)
{
    const muta_part *const part = &score->parts[index];
    const muta_passage_chord *const chord =
        muta_passage_chord_at(passage, time_of(part, harmony, passage, index));
    muta_recast recast = {.to = passage->scale};
    muta_symbol symbol;

    if (!muta_symbol_read(score, harmony, &symbol))
        return MUTA_OK;
    if (!find_from(part, harmony, passage, index, &recast))
        return MUTA_OK;
    muta_recast_for(&recast, symbol.root);
    if (chord && chord->is_written)
        return put_chord(score, passage, part, harmony, &symbol, &chord->value,
                         muta_recast_class(&recast, symbol.bass));
    return recast_symbol(score, harmony, &recast);
}

muta_status muta_recast_symbols(muta_score *score, const muta_passage *passage)
{
    for (uint32_t i = 0; i < score->part_count && passage->keys_recast; i++) {
        const muta_part *const part = &score->parts[i];
        for (size_t j = 0; j < part->harmonies.count; j++) {
            const muta_harmony *const harmony = &part->harmonies.at[j];
            if (muta_moment_compare(harmony->at, passage->from) >= 0 &&
                muta_moment_compare(harmony->at, passage->to) < 0)
                MUTA_TRY(recast_one(score, passage, i, harmony));
        }
    }
    return MUTA_OK;
}
