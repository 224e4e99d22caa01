/* patch_note.c: a note's node, facet by facet; what no pass changed stays the composer's. */
#include "musicxml/patch.h"
#include <string.h>

/* What the schema puts before an accidental. */
static const muta_name before_accidental[] = {
    N_GRACE, N_CUE,        N_CHORD,    N_PITCH, N_UNPITCHED, N_REST, N_DURATION,
    N_TIE,   N_INSTRUMENT, N_FOOTNOTE, N_LEVEL, N_VOICE,     N_TYPE, N_DOT,
};

/* The composer's vertical positions are those of another pitch; horizontal ones stay. */
static void drop_heights(muta_tree *tree, muta_node node)
{
    muta_tree_drop_attribute(tree, node, N_DEFAULT_Y);
    muta_tree_drop_attribute(tree, node, N_RELATIVE_Y);
    muta_tree_drop_attribute(tree, node, N_BEZIER_Y);
}

static void drop_all_heights(muta_tree *tree, muta_node note)
{
    drop_heights(tree, note);
    for (muta_node child = muta_tree_first(tree, note); child;
         child = muta_tree_next(tree, child)) {
        const muta_name name = muta_tree_name(tree, child);
        if (name == N_STEM || name == N_ACCIDENTAL)
            drop_heights(tree, child);
        if (name != N_NOTATIONS)
            continue;
        for (muta_node mark = muta_tree_first(tree, child); mark;
             mark = muta_tree_next(tree, mark)) {
            const muta_name of = muta_tree_name(tree, mark);
            if (of == N_TIED || of == N_SLUR)
                drop_heights(tree, mark);
        }
    }
}

/* Takes off each child of this name; returns how many there were. */
static size_t take_off(muta_tree *tree, muta_node parent, muta_name name)
{
    size_t count = 0;
    muta_node next;

    for (muta_node child = muta_tree_first(tree, parent); child; child = next) {
        next = muta_tree_next(tree, child);
        if (muta_tree_name(tree, child) != name)
            continue;
        muta_tree_remove(tree, parent, child);
        count++;
    }
    return count;
}

/* Takes off what its last child left empty. */
static void prune(muta_tree *tree, muta_node parent, muta_node node)
{
    if (!muta_tree_first(tree, node))
        muta_tree_remove(tree, parent, node);
}

/* A string, a fret, a finger that belonged to the old pitch; a finger is as good an octave away. */
static void drop_technique(muta_score *score, const muta_part *part, const muta_note *note,
                           muta_diags *diags)
{
    muta_tree *const tree = &score->tree;
    const muta_place place =
        muta_score_place(score, part, (muta_moment){note->bar, note->staff, note->onset});
    const bool octave =
        (note->pitch.place - note->old.place) % 7 == 0 && note->pitch.alter == note->old.alter;
    size_t fingers = 0;
    size_t strings = 0;
    muta_node next;

    for (muta_node notations = muta_tree_first(tree, note->node); notations; notations = next) {
        next = muta_tree_next(tree, notations);
        if (muta_tree_name(tree, notations) != N_NOTATIONS)
            continue;
        const muta_node technical = muta_tree_child(tree, notations, N_TECHNICAL);
        if (!technical)
            continue;
        const size_t before = fingers + strings;
        strings += take_off(tree, technical, N_STRING) + take_off(tree, technical, N_FRET);
        fingers += octave ? 0 : take_off(tree, technical, N_FINGERING);
        if (fingers + strings == before)
            continue;
        prune(tree, notations, technical);
        prune(tree, note->node, notations);
    }
    for (; fingers > 0; fingers--)
        muta_diag_add(diags, MUTA_WARNING, place, "a fingering of the old pitch was taken off");
    if (strings > 0)
        muta_diag_add(diags, MUTA_WARNING, place,
                      "a string or fret of the old pitch was taken off");
}

/* The signs above and below ornaments are those of the neighbours, which moved along. */
static muta_status patch_marks(muta_tree *tree, muta_node parent, const muta_note *note)
{
    for (muta_node child = muta_tree_first(tree, parent); child;
         child = muta_tree_next(tree, child)) {
        const muta_name name = muta_tree_name(tree, child);
        const char *const placement = muta_tree_attribute(tree, child, N_PLACEMENT);
        const bool below = placement && strcmp(placement, "below") == 0;
        if (name == N_ACCIDENTAL_MARK)
            MUTA_TRY(muta_patch_neighbour_sign(tree, child, note, below ? -1 : 1));
        if (name == N_NOTATIONS || name == N_ORNAMENTS)
            MUTA_TRY(patch_marks(tree, child, note));
    }
    return MUTA_OK;
}

static muta_status patch_pitch(muta_score *score, const muta_part *part, const muta_note *note,
                               muta_diags *diags)
{
    muta_tree *const tree = &score->tree;
    const muta_node pitch = muta_tree_child(tree, note->node, N_PITCH);
    const char octave[] = {(char)('0' + muta_pitch_octave(note->pitch)), '\0'};

    MUTA_TRY(muta_patch_pitch(tree, pitch, N_STEP, N_ALTER, note->pitch));
    MUTA_TRY(muta_patch_leaf(tree, pitch, 0, N_OCTAVE, octave));
    drop_all_heights(tree, note->node);
    if (muta_pitch_is_equal(note->pitch, note->old))
        return MUTA_OK;
    drop_technique(score, part, note, diags);
    return patch_marks(tree, note->node, note);
}

static muta_status patch_sign(muta_tree *tree, const muta_note *note)
{
    const muta_node node = muta_tree_child(tree, note->node, N_ACCIDENTAL);

    if (node)
        muta_tree_drop_attribute(tree, node, N_SMUFL);
    MUTA_TRY(muta_patch_leaf(
        tree, note->node,
        muta_patch_place(tree, note->node, before_accidental, MUTA_LENGTH(before_accidental)),
        N_ACCIDENTAL, muta_sign_name((muta_sign)note->sign)));
    const muta_node put = muta_tree_child(tree, note->node, N_ACCIDENTAL);
    return put && !node && (note->flags & MUTA_NOTE_COURTESY)
               ? muta_tree_set_attribute(tree, put, N_CAUTIONARY, "yes")
               : MUTA_OK;
}

/* Takes off the child of this name that has this `type`. */
static void drop_typed(muta_tree *tree, muta_node parent, muta_name name, const char *type)
{
    muta_node next;

    for (muta_node child = muta_tree_first(tree, parent); child; child = next) {
        next = muta_tree_next(tree, child);
        if (muta_tree_name(tree, child) != name)
            continue;
        const char *const of = muta_tree_attribute(tree, child, N_TYPE);
        if (of && strcmp(of, type) == 0)
            muta_tree_remove(tree, parent, child);
    }
}

static void drop_tie(muta_tree *tree, muta_node note, const char *type)
{
    muta_node next;

    drop_typed(tree, note, N_TIE, type);
    for (muta_node child = muta_tree_first(tree, note); child; child = next) {
        next = muta_tree_next(tree, child);
        if (muta_tree_name(tree, child) != N_NOTATIONS)
            continue;
        const bool had_some = muta_tree_first(tree, child);
        drop_typed(tree, child, N_TIED, type);
        if (had_some)
            prune(tree, note, child);
    }
}

muta_status muta_patch_note(muta_score *score, const muta_part *part, muta_note *note,
                            muta_diags *diags)
{
    muta_tree *const tree = &score->tree;
    const muta_node stem = muta_tree_child(tree, note->node, N_STEM);

    if (note->changed & MUTA_CHANGED_PITCH)
        MUTA_TRY(patch_pitch(score, part, note, diags));
    if (note->changed & MUTA_CHANGED_ACCIDENTAL)
        MUTA_TRY(patch_sign(tree, note));
    if ((note->changed & MUTA_CHANGED_STEM) && stem)
        MUTA_TRY(muta_tree_set_text(tree, stem, note->stem == MUTA_STEM_UP ? "up" : "down"));
    if (note->flags & MUTA_NOTE_CUT_START)
        drop_tie(tree, note->node, "start");
    if (note->flags & MUTA_NOTE_CUT_STOP)
        drop_tie(tree, note->node, "stop");
    return MUTA_OK;
}
