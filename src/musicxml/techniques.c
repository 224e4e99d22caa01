/* techniques.c: playing techniques as marks, for the version that the document names. */
#include "musicxml/marks.h"
#include "musicxml/patch.h"
#include "musicxml/rewrite.h"
#include <stdio.h>
#include <string.h>

struct putting {
    muta_score *score;
    const muta_plan *plan;
    const muta_passage *passage;
    const muta_playing *playing;
    muta_part *part;
    size_t count;
};

static muta_status set_text(muta_tree *tree, muta_node node, muta_text text)
{
    return muta_tree_intern(tree, text.at, text.length, &muta_tree_at(tree, node)->text);
}

/* `pizzicato=yes`, `mute=on`, `play=col legno`: an attribute of `sound`, or what it holds. */
static muta_status put_sound(muta_tree *tree, muta_node direction, muta_text sound)
{
    const char *const equals = memchr(sound.at, '=', sound.length);
    muta_node last = 0;
    muta_node node;
    muta_node play;
    muta_node leaf;
    char value[32] = "";

    if (!equals)
        return MUTA_OK;
    const muta_text name = {sound.at, (size_t)(equals - sound.at)};
    const muta_text is = {equals + 1, sound.length - name.length - 1};
    if (is.length >= sizeof value)
        return MUTA_E_RANGE;
    memcpy(value, is.at, is.length);
    for (muta_node child = muta_tree_first(tree, direction); child;
         child = muta_tree_next(tree, child))
        last = child;
    MUTA_TRY(muta_patch_insert(tree, direction, last, N_SOUND, NULL, &node));
    if (muta_text_is(name, "pizzicato"))
        return muta_tree_set_attribute(tree, node, N_PIZZICATO, value);
    if (muta_text_is(name, "soft-pedal"))
        return muta_tree_set_attribute(tree, node, N_SOFT_PEDAL, value);
    if (muta_text_is(name, "damper-pedal"))
        return muta_tree_set_attribute(tree, node, N_DAMPER_PEDAL, value);
    MUTA_TRY(muta_patch_insert(tree, node, 0, N_PLAY, NULL, &play));
    if (muta_text_is(name, "mute"))
        return muta_patch_insert(tree, play, 0, N_MUTE, value, &leaf);
    MUTA_TRY(muta_patch_insert(tree, play, 0, N_OTHER_PLAY, value, &leaf));
    return muta_tree_set_attribute(tree, leaf, N_TYPE, "technique");
}

/* The pedals of a piano are not those of one staff. */
static bool is_for_part(const struct putting *putting)
{
    static const char pedal[] = "-pedal=";
    const muta_text sound = putting->playing->technique.sound;

    for (size_t i = 0; i + sizeof pedal - 1 <= sound.length; i++)
        if (memcmp(sound.at + i, pedal, sizeof pedal - 1) == 0)
            return true;
    return false;
}

static muta_status put_direction(struct putting *putting, muta_node cell, muta_node after,
                                 uint8_t staff, muta_text words, muta_text sound)
{
    muta_tree *const tree = &putting->score->tree;
    muta_node direction;
    muta_node type;
    muta_node node;
    char number[8];

    MUTA_TRY(muta_patch_insert(tree, cell, after, N_DIRECTION, NULL, &direction));
    MUTA_TRY(muta_tree_set_attribute(tree, direction, N_PLACEMENT,
                                     is_for_part(putting) ? "below" : "above"));
    MUTA_TRY(muta_patch_insert(tree, direction, 0, N_DIRECTION_TYPE, NULL, &type));
    MUTA_TRY(muta_patch_insert(tree, type, 0, N_WORDS, NULL, &node));
    MUTA_TRY(set_text(tree, node, words));
    if (putting->part->staves > 1) {
        (void)snprintf(number, sizeof number, "%u", staff);
        MUTA_TRY(muta_patch_insert(tree, direction, type, N_STAFF, number, &node));
    }
    putting->count++;
    return put_sound(tree, direction, sound);
}

/* Before the first note of a staff at or behind a moment; nowhere when there is none. */
static muta_status put_words(struct putting *putting, uint32_t bar, muta_fraction onset,
                             uint8_t staff, muta_text words, muta_text sound)
{
    muta_part *const part = putting->part;
    const muta_moment from = {bar, MUTA_ALL_STAVES, onset};

    for (uint32_t i = bar < part->bar_count ? part->bars[bar].first : UINT32_MAX;
         i < part->notes.count; i++) {
        const muta_note *const note = &part->notes.at[i];
        const muta_moment at = {note->bar, note->staff, note->onset};
        const muta_node cell = part->bars[note->bar].cell;
        if (note->staff != staff || (note->flags & MUTA_NOTE_CHORD) ||
            muta_moment_compare(at, from) < 0)
            continue;
        return put_direction(putting, cell,
                             muta_patch_before(&putting->score->tree, cell, note->node), staff,
                             words, sound);
    }
    return MUTA_OK;
}

/* A mark at a note, inside the notations that it has or gets. */
static muta_status put_mark(struct putting *putting, const muta_note *note)
{
    muta_tree *const tree = &putting->score->tree;
    const muta_technique *const technique = &putting->playing->technique;
    const bool tremolo = muta_text_is(technique->form, "tremolo");
    const muta_name group = tremolo ? N_ORNAMENTS : N_TECHNICAL;
    muta_name name = N_TREMOLO;
    muta_node mark;

    if (!tremolo)
        MUTA_TRY(muta_tree_intern_name(tree, technique->mark.at, technique->mark.length, &name));
    MUTA_TRY(muta_mark_put(tree, note->node, group, name, &mark));
    if (!mark)
        return MUTA_OK;
    putting->count++;
    if (!tremolo)
        return MUTA_OK;
    MUTA_TRY(muta_tree_set_attribute(tree, mark, N_TYPE, "single"));
    return set_text(tree, mark, technique->mark);
}

static bool is_played(const struct putting *putting, uint32_t voice)
{
    const muta_weave *const work = &putting->passage->work;

    for (size_t i = 0; i < work->lines.count; i++)
        if (work->lines.at[i].part == putting->playing->part && work->lines.at[i].voice == voice)
            return true;
    return false;
}

static muta_status put_marks(struct putting *putting, muta_moment from, muta_moment to)
{
    muta_part *const part = putting->part;

    for (uint32_t i = from.bar < part->bar_count ? part->bars[from.bar].first : UINT32_MAX;
         i < part->notes.count; i++) {
        const muta_note *const note = &part->notes.at[i];
        const muta_moment at = {note->bar, note->staff, note->onset};
        if (muta_moment_compare(at, to) >= 0)
            break;
        if (muta_moment_compare(at, from) >= 0 && is_played(putting, note->voice) &&
            !(note->flags & (MUTA_NOTE_REST | MUTA_NOTE_CHORD | MUTA_NOTE_GRACE | MUTA_NOTE_CUE |
                             MUTA_NOTE_TIE_STOP)))
            MUTA_TRY(put_mark(putting, note));
    }
    return MUTA_OK;
}

static bool plays_on(const struct putting *putting, uint8_t staff)
{
    const muta_weave *const work = &putting->passage->work;

    for (size_t i = 0; i < work->lines.count; i++)
        if (work->lines.at[i].part == putting->playing->part && work->lines.at[i].staff == staff)
            return true;
    return false;
}

/* Whether the part goes on with another technique at once, which tells the player enough. */
static bool goes_on(const struct putting *putting)
{
    const muta_playing *const playing = putting->playing;

    if (!muta_fraction_is_valid(playing->to) || !muta_text_is(playing->technique.end_words, "ord."))
        return false;
    for (size_t i = 0; i < putting->passage->playing.count; i++) {
        const muta_playing *const other = &putting->passage->playing.at[i];
        if (other->part == playing->part && other->technique.words.length > 0 &&
            muta_fraction_compare(other->from, playing->to) == 0)
            return true;
    }
    return false;
}

/* Behind the last note of a bar. */
static muta_status put_at_end(struct putting *putting, uint32_t bar, uint8_t staff)
{
    const muta_tree *const tree = &putting->score->tree;
    const muta_node cell = putting->part->bars[bar].cell;
    const muta_technique *const technique = &putting->playing->technique;
    muta_node last = 0;

    for (muta_node child = muta_tree_first(tree, cell); child; child = muta_tree_next(tree, child))
        if (!muta_rewrite_is_end(tree, child))
            last = child;
    return put_direction(putting, cell, last, staff, technique->end_words, technique->end_sound);
}

/* The words at both ends. What is repeated ends before the repeat, so that it begins without. */
static muta_status put_ends(struct putting *putting, uint8_t staff, muta_moment from,
                            muta_moment to)
{
    const muta_technique *const technique = &putting->playing->technique;

    MUTA_TRY(put_words(putting, from.bar, from.onset, staff, technique->words, technique->sound));
    if (goes_on(putting))
        return MUTA_OK;
    if (to.onset.top == 0 && to.bar > 0 && to.bar <= putting->part->bar_count &&
        putting->score->bars[to.bar - 1].closes && putting->part->bars[to.bar - 1].cell)
        return put_at_end(putting, to.bar - 1, staff);
    return put_words(putting, to.bar, to.onset, staff, technique->end_words, technique->end_sound);
}

static muta_status put(struct putting *putting)
{
    const muta_playing *const playing = putting->playing;
    const bool to_the_end = !muta_fraction_is_valid(playing->to);
    muta_moment from = {0, MUTA_ALL_STAVES, MUTA_ZERO};
    muta_moment to = from;

    muta_plan_place(putting->plan, putting->passage, playing->part, playing->from, false, &from.bar,
                    &from.onset);
    muta_plan_place(putting->plan, putting->passage, playing->part,
                    to_the_end ? putting->passage->length : playing->to, true, &to.bar, &to.onset);
    /* The end of a bar is the start of the next. */
    if (muta_fraction_compare(to.onset, putting->plan->bars.at[to.bar].length) >= 0) {
        to.bar++;
        to.onset = MUTA_ZERO;
    }
    if (!muta_text_is(playing->technique.form, "words"))
        MUTA_TRY(put_marks(putting, from, to));
    for (uint8_t staff = 1;
         staff <= putting->part->staves && staff < UINT8_MAX && playing->technique.words.length > 0;
         staff++) {
        if (!plays_on(putting, staff))
            continue;
        MUTA_TRY(put_ends(putting, staff, from, to));
        if (is_for_part(putting))
            break;
    }
    return MUTA_OK;
}

muta_status muta_techniques_put(muta_score *score, const muta_plan *plan,
                                const muta_passage *passage, size_t *count)
{
    for (size_t i = 0; i < passage->playing.count; i++) {
        const muta_playing *const playing = &passage->playing.at[i];
        struct putting putting = {score, plan, passage, playing, &score->parts[playing->part], 0};
        MUTA_TRY(put(&putting));
        *count += putting.count;
    }
    return MUTA_OK;
}
