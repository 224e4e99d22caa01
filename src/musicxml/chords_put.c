/* chords_put.c: chord symbols, and numerals under the staff, where a passage says its chords. */
#include "musicxml/marks.h"
#include "musicxml/patch.h"
#include "musicxml/rewrite.h"
#include "musicxml/symbol.h"
#include <string.h>

struct saying {
    muta_score *score;
    const muta_plan *plan;
    const muta_passage *passage;
    uint32_t part; /* over which they stand */
    uint8_t staff;
    bool stays; /* what sounds is what sounded: numerals that stand are true */
    size_t count;
};

static muta_part *part_of(const struct saying *saying)
{
    return &saying->score->parts[saying->part];
}

/* The moment of the score, as it is now, for one of the passage. */
static muta_moment moment_of(const struct saying *saying, muta_fraction time, bool is_end)
{
    muta_moment at = {0, MUTA_ALL_STAVES, MUTA_ZERO};

    muta_plan_place(saying->plan, saying->passage, saying->part, time, is_end, &at.bar, &at.onset);
    return at;
}

/* ---- where they stand ---- */

static bool has_symbols(const muta_passage *passage, const muta_part *part)
{
    for (size_t i = 0; i < part->harmonies.count; i++)
        if (muta_moment_compare(part->harmonies.at[i].at, passage->from) >= 0 &&
            muta_moment_compare(part->harmonies.at[i].at, passage->to) < 0)
            return true;
    return false;
}

/* Where some stand already, else over the tune, else over the first part that is varied. */
static bool find_staff(struct saying *saying)
{
    const muta_weave *const work = &saying->passage->work;
    bool found = false;

    saying->staff = 1;
    for (uint32_t i = 0; i < saying->score->part_count; i++)
        if (has_symbols(saying->passage, &saying->score->parts[i])) {
            saying->part = i;
            return true;
        }
    for (size_t i = 0; i < work->lines.count; i++) {
        const muta_line *const line = &work->lines.at[i];
        if (found && !line->is_tune)
            continue;
        saying->part = line->part;
        saying->staff = line->is_tune ? line->staff : 1;
        found = true;
        if (line->is_tune)
            break;
    }
    return found;
}

/* Numerals stand under the bass; under the symbols where no line is that. */
static void find_bass_staff(struct saying *saying)
{
    const muta_weave *const work = &saying->passage->work;

    for (size_t i = 0; i < work->lines.count; i++)
        if (work->lines.at[i].is_bass) {
            saying->part = work->lines.at[i].part;
            saying->staff = work->lines.at[i].staff;
        }
}

/* ---- what is taken off ---- */

/* Symbols of the passage go, but for those that its chords are. */
static void take_off(struct saying *saying)
{
    const muta_moment from = moment_of(saying, MUTA_ZERO, false);
    const muta_moment to = moment_of(saying, saying->passage->length, true);
    muta_tree *const tree = &saying->score->tree;

    for (size_t i = 0; i < saying->score->part_count; i++) {
        muta_part *const part = &saying->score->parts[i];
        for (size_t j = 0; j < part->harmonies.count; j++) {
            const muta_harmony *const harmony = &part->harmonies.at[j];
            const muta_fraction time = muta_fraction_subtract(
                muta_fraction_add(muta_part_bar_start(saying->score, part, harmony->at.bar),
                                  harmony->at.onset),
                muta_fraction_add(muta_part_bar_start(saying->score, part, from.bar), from.onset));
            const muta_passage_chord *const chord = muta_passage_chord_at(saying->passage, time);
            if (muta_moment_compare(harmony->at, from) < 0 ||
                muta_moment_compare(harmony->at, to) >= 0 || !chord || chord->is_written ||
                harmony->at.bar >= part->bar_count ||
                (saying->stays && !muta_tree_child(tree, harmony->node, N_ROOT)))
                continue;
            muta_tree_remove(tree, part->bars[harmony->at.bar].cell, harmony->node);
            saying->count++;
        }
    }
}

/* ---- what is put in ---- */

/* The note before which something at a moment stands: the one that begins there, else the one that
 * sounds then, from whose onset it is away; NULL when there is none. */
static const muta_note *note_at(const struct saying *saying, muta_moment at)
{
    const muta_part *const part = part_of(saying);
    const muta_part_bar *const bar = &part->bars[at.bar];
    const muta_note *found = NULL;

    for (uint32_t i = bar->first; i < bar->first + bar->count; i++) {
        const muta_note *const note = &part->notes.at[i];
        if ((note->flags & MUTA_NOTE_CHORD) || muta_fraction_compare(note->onset, at.onset) > 0 ||
            (note->staff != saying->staff && found))
            continue;
        if (!found || found->staff != saying->staff ||
            muta_fraction_compare(note->onset, found->onset) > 0)
            found = note;
    }
    return found;
}

/* An element of a bar at a moment. @param offset  [out] in divisions, as text; empty for none */
static muta_status put_at(struct saying *saying, muta_moment at, muta_name name, muta_node *made,
                          char *offset)
{
    muta_tree *const tree = &saying->score->tree;
    const muta_note *const note = note_at(saying, at);
    const muta_node cell = part_of(saying)->bars[at.bar].cell;

    offset[0] = '\0';
    if (!note)
        return MUTA_E_DATA;
    const muta_fraction away = muta_fraction_subtract(at.onset, note->onset);
    muta_fraction divisions =
        muta_fraction_multiply(away, muta_part_divisions_at(part_of(saying), at));
    if (muta_fraction_is_valid(divisions) && divisions.bottom != 1) {
        MUTA_TRY(muta_multiply_divisions(saying->score, saying->part, divisions.bottom));
        divisions = muta_fraction_scale(divisions, divisions.bottom);
    }
    if (away.top > 0)
        (void)muta_text_print(divisions.top, offset);
    saying->count++;
    return muta_patch_insert(tree, cell, muta_patch_before(tree, cell, note->node), name, NULL,
                             made);
}

static muta_status put_class(muta_tree *tree, muta_node harmony, muta_node after, muta_name holder,
                             muta_name step, muta_name alter, int32_t fifths)
{
    muta_node made;

    /* More than a double sharp or flat is not readable. */
    while (fifths > 19)
        fifths -= 12;
    while (fifths < -15)
        fifths += 12;
    MUTA_TRY(muta_patch_insert(tree, harmony, after, holder, NULL, &made));
    return muta_patch_pitch(tree, made, step, alter, muta_fifths_pitch(fifths, 4));
}

static muta_status put_staff(struct saying *saying, muta_node to, const char *offset)
{
    muta_tree *const tree = &saying->score->tree;
    muta_node last = 0;
    muta_node made;
    char number[24];

    for (muta_node child = muta_tree_first(tree, to); child; child = muta_tree_next(tree, child))
        last = child;
    if (*offset) {
        MUTA_TRY(muta_patch_insert(tree, to, last, N_OFFSET, offset, &made));
        last = made;
    }
    return part_of(saying)->staves > 1
               ? muta_patch_insert(tree, to, last, N_STAFF, muta_text_print(saying->staff, number),
                                   &made)
               : MUTA_OK;
}

static muta_status put_symbol(struct saying *saying, const muta_passage_chord *chord,
                              muta_moment at)
{
    muta_tree *const tree = &saying->score->tree;
    const muta_chord_row *const row = muta_chord_row_of(chord->value.kind);
    const int32_t sounds = muta_interval_fifths(muta_part_transposition_at(part_of(saying), at));
    const int32_t root = chord->value.root - sounds;
    char offset[24];
    muta_node harmony;
    muta_node kind;

    MUTA_TRY(put_at(saying, at, N_HARMONY, &harmony, offset));
    MUTA_TRY(put_class(tree, harmony, 0, N_ROOT, N_ROOT_STEP, N_ROOT_ALTER, root));
    MUTA_TRY(muta_patch_insert(tree, harmony, muta_tree_child(tree, harmony, N_ROOT), N_KIND,
                               row->name, &kind));
    if (chord->value.bass > 0 && chord->value.bass < row->count)
        MUTA_TRY(put_class(tree, harmony, kind, N_BASS, N_BASS_STEP, N_BASS_ALTER,
                           root + row->fifths[chord->value.bass]));
    return put_staff(saying, harmony, offset);
}

static muta_status put_numeral(struct saying *saying, const muta_passage_chord *chord,
                               muta_moment at)
{
    muta_tree *const tree = &saying->score->tree;
    char offset[24];
    muta_node direction;
    muta_node type;
    muta_node words;

    MUTA_TRY(put_at(saying, at, N_DIRECTION, &direction, offset));
    MUTA_TRY(muta_tree_set_attribute(tree, direction, N_PLACEMENT, "below"));
    MUTA_TRY(muta_patch_insert(tree, direction, 0, N_DIRECTION_TYPE, NULL, &type));
    MUTA_TRY(muta_patch_insert(tree, type, 0, N_WORDS, chord->numeral, &words));
    return put_staff(saying, direction, offset);
}

/* Whether two chords are said alike. */
static bool is_same(const muta_passage_chord *a, const muta_passage_chord *b, muta_says what)
{
    return muta_chord_is_equal(a->value, b->value) &&
           (what == MUTA_SAYS_SYMBOLS || strcmp(a->numeral, b->numeral) == 0);
}

/* Each chord where it is stated first: its symbol, or its numeral. */
static muta_status put_all(struct saying *saying, muta_says what)
{
    const muta_passage *const passage = saying->passage;
    const muta_passage_chord *before = NULL;

    for (size_t i = 0; i < passage->chord_count; i++) {
        const muta_passage_chord *const chord = &passage->chords[i];
        const muta_fraction time = muta_fraction_max(chord->from, MUTA_ZERO);
        if (muta_fraction_compare(chord->to, MUTA_ZERO) <= 0 ||
            muta_fraction_compare(time, passage->length) >= 0 ||
            (before && is_same(before, chord, what)))
            continue;
        const muta_moment at = moment_of(saying, time, false);
        if (at.bar >= part_of(saying)->bar_count || !note_at(saying, at))
            continue;
        if (what == MUTA_SAYS_SYMBOLS && !chord->is_written)
            MUTA_TRY(put_symbol(saying, chord, at));
        if (what == MUTA_SAYS_NUMERALS && chord->numeral[0])
            MUTA_TRY(put_numeral(saying, chord, at));
        before = chord;
    }
    return MUTA_OK;
}

muta_status muta_chords_put(muta_score *score, const muta_plan *plan, const muta_passage *passage,
                            size_t *count)
{
    struct saying saying = {.score = score,
                            .plan = plan,
                            .passage = passage,
                            .stays = muta_plan_is_still(plan) && plan->tones_changed == 0};

    if (!passage->says || !find_staff(&saying))
        return MUTA_OK;
    if (passage->says & MUTA_SAYS_SYMBOLS) {
        take_off(&saying);
        MUTA_TRY(put_all(&saying, MUTA_SAYS_SYMBOLS));
    }
    if (passage->says & MUTA_SAYS_NUMERALS) {
        find_bass_staff(&saying);
        MUTA_TRY(put_all(&saying, MUTA_SAYS_NUMERALS));
    }
    *count += saying.count;
    return saying.count > 0 ? muta_build_again(score) : MUTA_OK;
}
