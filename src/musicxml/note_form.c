/* note_form.c: a note's node given another value, place and company. */
#include "musicxml/note_form.h"
#include "base/text.h"
#include "musicxml/patch.h"
#include <string.h>

enum {
    CHILDREN = 128,
    SPARE = 16
};

/* The order that the schema asks of a note's children; others come last. */
static const uint8_t ranks[N_COUNT] = {
    [N_GRACE] = 1,      [N_CUE] = 2,        [N_CHORD] = 3,          [N_PITCH] = 4,
    [N_UNPITCHED] = 5,  [N_REST] = 6,       [N_DURATION] = 7,       [N_TIE] = 8,
    [N_INSTRUMENT] = 9, [N_FOOTNOTE] = 10,  [N_LEVEL] = 11,         [N_VOICE] = 12,
    [N_TYPE] = 13,      [N_DOT] = 14,       [N_ACCIDENTAL] = 15,    [N_TIME_MODIFICATION] = 16,
    [N_STEM] = 17,      [N_NOTEHEAD] = 18,  [N_NOTEHEAD_TEXT] = 19, [N_STAFF] = 20,
    [N_BEAM] = 21,      [N_NOTATIONS] = 22, [N_LYRIC] = 23,         [N_PLAY] = 24,
    [N_LISTEN] = 25,
};

static uint8_t rank_of(muta_name name)
{
    /* Names that are not MusicXML's come behind them all. */
    return name < N_COUNT && ranks[name] ? ranks[name] : UINT8_MAX;
}

/* The children of a node, taken off to be put in again in order. */
struct children {
    muta_tree *tree;
    muta_node parent;
    size_t count;
    muta_node at[CHILDREN];
    muta_string blank; /* white space before a child */
    size_t spare_count;
    muta_node spare[SPARE]; /* nodes that were dropped, for those that come in their place */
};

static muta_status take_children(struct children *children, muta_tree *tree, muta_node parent)
{
    children->tree = tree;
    children->parent = parent;
    children->count = 0;
    children->spare_count = 0;
    if (muta_tree_first(tree, parent))
        children->blank = muta_tree_at(tree, muta_tree_first(tree, parent))->before;
    else
        MUTA_TRY(muta_patch_deepen(tree, muta_tree_at(tree, parent)->before, &children->blank));
    for (muta_node child = muta_tree_first(tree, parent); child;
         child = muta_tree_next(tree, child)) {
        if (children->count == CHILDREN)
            return MUTA_E_RANGE;
        children->at[children->count++] = child;
    }
    return MUTA_OK;
}

static void drop_child(struct children *children, size_t nth)
{
    children->count--;
    for (size_t i = nth; i < children->count; i++)
        children->at[i] = children->at[i + 1];
}

/* Drops the children whose names a table marks; what is added next takes over their nodes. */
static void drop_marked(struct children *children, const bool *marked)
{
    size_t kept = 0;

    for (size_t i = 0; i < children->count; i++) {
        const muta_node child = children->at[i];
        const muta_name name = muta_tree_name(children->tree, child);
        if (name >= N_COUNT || !marked[name])
            children->at[kept++] = child;
        else if (children->spare_count < SPARE)
            children->spare[children->spare_count++] = child;
    }
    children->count = kept;
}

static void drop_named(struct children *children, muta_name name)
{
    for (size_t i = children->count; i > 0; i--)
        if (muta_tree_name(children->tree, children->at[i - 1]) == name)
            drop_child(children, i - 1);
}

/* A new element, in place of one that was dropped if there is such. */
static muta_status take_node(struct children *children, muta_name name, muta_node *made)
{
    if (children->spare_count == 0)
        return muta_tree_add(children->tree, MUTA_ELEMENT, name, made);
    *made = children->spare[--children->spare_count];
    *muta_tree_at(children->tree, *made) = (muta_tree_node){.kind = MUTA_ELEMENT, .name = name};
    return MUTA_OK;
}

static muta_status add_child(struct children *children, muta_name name, const char *text,
                             muta_node *made)
{
    if (children->count == CHILDREN)
        return MUTA_E_RANGE;
    MUTA_TRY(take_node(children, name, made));
    muta_tree_at(children->tree, *made)->before = children->blank;
    children->at[children->count++] = *made;
    return text ? muta_tree_set_text(children->tree, *made, text) : MUTA_OK;
}

/* Puts the children in again, in the order of the schema; equal ones stay in theirs. */
static void put_back(struct children *children)
{
    muta_tree *const tree = children->tree;
    muta_tree_node *const parent = muta_tree_at(tree, children->parent);
    uint8_t placed[CHILDREN];

    for (size_t i = 0; i < children->count; i++) {
        const muta_node held = children->at[i];
        const uint8_t rank = rank_of(muta_tree_name(tree, held));
        size_t to = i;
        for (; to > 0 && placed[to - 1] > rank; to--) {
            children->at[to] = children->at[to - 1];
            placed[to] = placed[to - 1];
        }
        children->at[to] = held;
        placed[to] = rank;
    }
    if (!parent->child) {
        parent->tail = parent->before;
        parent->text = 0;
    }
    parent->child = children->count ? children->at[0] : 0;
    for (size_t i = 0; i < children->count; i++)
        muta_tree_at(tree, children->at[i])->next =
            i + 1 < children->count ? children->at[i + 1] : 0;
}

static muta_status add_duration(struct children *children, muta_fraction divisions)
{
    char text[24];
    muta_node made;

    if (divisions.bottom != 1)
        return MUTA_E_RANGE;
    return add_child(children, N_DURATION, muta_text_print(divisions.top, text), &made);
}

static const char *type_name(int type)
{
    static const char *const names[] = {"1024th", "512th", "256th",  "128th",   "64th",
                                        "32nd",   "16th",  "eighth", "quarter", "half",
                                        "whole",  "breve", "long",   "maxima"};

    return names[type + 8];
}

static muta_status add_beam(struct children *children, size_t level, uint8_t beam)
{
    static const char *const names[] = {NULL,  "begin",        "continue",
                                        "end", "forward hook", "backward hook"};
    const char digit[] = {(char)('1' + level), '\0'};
    muta_node made;

    MUTA_TRY(add_child(children, N_BEAM, names[beam], &made));
    return muta_tree_set_attribute(children->tree, made, N_NUMBER, digit);
}

static muta_status add_beams(struct children *children, const muta_item *item)
{
    for (size_t level = 0; level < MUTA_BEAM_LEVELS; level++)
        if (item->beams[level] != MUTA_BEAM_NONE)
            MUTA_TRY(add_beam(children, level, item->beams[level]));
    return MUTA_OK;
}

/* One grace note is an eighth, several are sixteenths under their beams. */
static muta_status add_grace(struct children *children, const muta_note_form *form)
{
    const bool several = form->graces > 1;
    const uint8_t beam = form->nth_grace == 0                  ? MUTA_BEAM_BEGIN
                         : form->nth_grace + 1 == form->graces ? MUTA_BEAM_END
                                                               : MUTA_BEAM_CONTINUE;
    muta_node made;

    MUTA_TRY(add_child(children, N_GRACE, NULL, &made));
    if (form->grace == MUTA_GRACE_SHORT)
        MUTA_TRY(muta_tree_set_attribute(children->tree, made, N_SLASH, "yes"));
    MUTA_TRY(add_child(children, N_TYPE, type_name(several ? -2 : -1), &made));
    MUTA_TRY(add_child(children, N_STEM, "up", &made));
    for (size_t level = 0; level < 2 && several; level++)
        MUTA_TRY(add_beam(children, level, beam));
    return MUTA_OK;
}

/* All tuplets of an item together; inside nested ones their product counts. */
static muta_status add_modification(struct children *children, const muta_note_form *form)
{
    const muta_item *const item = form->item;
    muta_fraction ratio = muta_fraction_of(form->is_tremolo ? 2 : 1, 1);
    int64_t actual = form->is_tremolo ? 2 : 1;
    int64_t normal = 1;
    char text[24];
    muta_node made;
    muta_node leaf;
    int8_t unit = item->type;

    for (size_t i = 0; i < MUTA_TUPLET_LEVELS && item->tuplets[i].actual > 0; i++) {
        actual *= item->tuplets[i].actual;
        normal *= item->tuplets[i].normal;
        unit = item->tuplets[i].type;
        ratio = muta_fraction_of(actual, normal);
    }
    if (ratio.top == 1 && ratio.bottom == 1)
        return MUTA_OK;
    MUTA_TRY(add_child(children, N_TIME_MODIFICATION, NULL, &made));
    MUTA_TRY(muta_patch_insert(children->tree, made, 0, N_ACTUAL_NOTES,
                               muta_text_print(actual, text), &leaf));
    MUTA_TRY(muta_patch_insert(children->tree, made, leaf, N_NORMAL_NOTES,
                               muta_text_print(normal, text), &leaf));
    return unit == item->type && item->dots == 0
               ? MUTA_OK
               : muta_patch_insert(children->tree, made, leaf, N_NORMAL_TYPE, type_name(unit),
                                   &leaf);
}

static muta_status add_value(struct children *children, const muta_note_form *form)
{
    const muta_item *const item = form->item;
    muta_node made;

    if (item->is_whole_bar)
        return MUTA_OK;
    MUTA_TRY(add_child(children, N_TYPE, type_name(item->type + form->is_tremolo), &made));
    for (uint8_t i = 0; i < item->dots; i++)
        MUTA_TRY(add_child(children, N_DOT, NULL, &made));
    return add_modification(children, form);
}

/* ---- what a note bears ---- */

static muta_status add_tied(muta_tree *tree, muta_node notations, const char *type)
{
    muta_node made;

    MUTA_TRY(muta_patch_insert(tree, notations, 0, N_TIED, NULL, &made));
    return muta_tree_set_attribute(tree, made, N_TYPE, type);
}

static muta_status add_tuplet_end(muta_tree *tree, muta_node notations, const muta_item *item,
                                  size_t level, bool begins)
{
    const muta_tuplet *const tuplet = &item->tuplets[level];
    const char digit[] = {(char)('1' + level), '\0'};
    const bool nested = level > 0 || item->tuplets[1].actual > 0;
    char text[24];
    muta_node made;

    MUTA_TRY(muta_patch_insert(tree, notations, 0, N_TUPLET, NULL, &made));
    MUTA_TRY(muta_tree_set_attribute(tree, made, N_TYPE, begins ? "start" : "stop"));
    MUTA_TRY(muta_tree_set_attribute(tree, made, N_NUMBER, digit));
    if (!begins)
        return MUTA_OK;
    MUTA_TRY(muta_tree_set_attribute(tree, made, N_BRACKET, tuplet->is_bracketed ? "yes" : "no"));
    for (int side = 0; side < 2 && nested; side++) {
        const muta_name names[] = {N_TUPLET_ACTUAL, N_TUPLET_NORMAL};
        muta_node last = muta_tree_first(tree, made);
        muta_node part;
        muta_node leaf;
        MUTA_TRY(muta_patch_insert(tree, made, last, names[side], NULL, &part));
        MUTA_TRY(muta_patch_insert(tree, part, 0, N_TUPLET_NUMBER,
                                   muta_text_print(side ? tuplet->normal : tuplet->actual, text),
                                   &leaf));
        MUTA_TRY(
            muta_patch_insert(tree, part, leaf, N_TUPLET_TYPE, type_name(tuplet->type), &leaf));
    }
    return MUTA_OK;
}

/* The ends come in: inner tuplets first, then outer ones. */
static muta_status add_tuplets(muta_tree *tree, muta_node notations, const muta_item *item)
{
    for (size_t level = 0; level < MUTA_TUPLET_LEVELS; level++)
        if (item->tuplets[level].ends)
            MUTA_TRY(add_tuplet_end(tree, notations, item, level, false));
    for (size_t level = MUTA_TUPLET_LEVELS; level > 0; level--)
        if (item->tuplets[level - 1].begins)
            MUTA_TRY(add_tuplet_end(tree, notations, item, level - 1, true));
    return MUTA_OK;
}

static bool is_end_mark(muta_name name)
{
    return name == N_FALLOFF || name == N_DOIT || name == N_BREATH_MARK || name == N_CAESURA;
}

/* What takes another's place when time runs backwards, and when pitch is upside down. */
static muta_name turned_name(muta_name name, bool mirrored, bool inverted)
{
    static const struct {
        muta_name one;
        muta_name other;
        bool by_time;
    } pairs[] = {
        {N_FALLOFF, N_SCOOP, true},
        {N_PLOP, N_DOIT, true},
        {N_TURN, N_INVERTED_TURN, false},
        {N_MORDENT, N_INVERTED_MORDENT, false},
    };

    for (size_t i = 0; i < MUTA_LENGTH(pairs); i++) {
        if (!(pairs[i].by_time ? mirrored : inverted))
            continue;
        if (name == pairs[i].one)
            return pairs[i].other;
        if (name == pairs[i].other)
            return pairs[i].one;
    }
    return name;
}

/* One end of a tremolo of two notes, or of a trill line. */
static bool is_span_mark(const muta_tree *tree, muta_node mark)
{
    const muta_name name = muta_tree_name(tree, mark);
    const char *const type = muta_tree_attribute(tree, mark, N_TYPE);

    return (name == N_TREMOLO || name == N_WAVY_LINE) && type && strcmp(type, "single") != 0 &&
           strcmp(type, "unmeasured") != 0;
}

/* The signs of ornaments, which say what is played in place of the note, and what belongs to them.
 */
static bool is_sign(muta_name name)
{
    return name == N_TRILL_MARK || name == N_TURN || name == N_INVERTED_TURN ||
           name == N_DELAYED_TURN || name == N_MORDENT || name == N_INVERTED_MORDENT ||
           name == N_SCHLEIFER || name == N_WAVY_LINE || name == N_ACCIDENTAL_MARK;
}

/* Marks inside `articulations`, `ornaments` and the like, one by one. */
static void sift_marks(muta_tree *tree, muta_node group, const muta_note_form *form)
{
    muta_node next;

    for (muta_node mark = muta_tree_first(tree, group); mark; mark = next) {
        const muta_name name = muta_tree_name(tree, mark);
        next = muta_tree_next(tree, mark);
        /* A sign belongs to the ornament before it. */
        const bool lonely = name == N_ACCIDENTAL_MARK && mark == muta_tree_first(tree, group);
        if (lonely || (form->drops_sign && is_sign(name)) ||
            (is_span_mark(tree, mark) && !form->keeps_spans) ||
            (is_end_mark(name) ? !form->ends : !form->begins))
            muta_tree_remove(tree, group, mark);
        else if (name)
            muta_tree_at(tree, mark)->name =
                turned_name(name, form->is_mirrored, form->is_inverted);
    }
}

static bool is_span(muta_name name)
{
    return name == N_TIED || name == N_TUPLET || name == N_SLUR || name == N_GLISSANDO ||
           name == N_SLIDE;
}

static void sift_notations(muta_tree *tree, muta_node notations, const muta_note_form *form)
{
    muta_node next;

    for (muta_node child = muta_tree_first(tree, notations); child; child = next) {
        const muta_name name = muta_tree_name(tree, child);
        next = muta_tree_next(tree, child);
        const bool holds_marks = muta_tree_first(tree, child);
        const bool misses = name == N_FERMATA ? !form->ends : !form->begins && !holds_marks;
        if (misses || (is_span(name) && (!form->keeps_spans || name == N_TIED || name == N_TUPLET ||
                                         !form->begins))) {
            muta_tree_remove(tree, notations, child);
        } else if (holds_marks) {
            sift_marks(tree, child, form);
            if (!muta_tree_first(tree, child))
                muta_tree_remove(tree, notations, child);
        }
    }
}

/* Whether the item ends or begins anything that `notations` says. */
static bool says_notations(const muta_note_form *form)
{
    bool says = form->tie_start || form->tie_stop;

    for (size_t i = 0; form->item && !form->is_chord && i < MUTA_TUPLET_LEVELS; i++)
        says = says || form->item->tuplets[i].begins || form->item->tuplets[i].ends;
    return says;
}

static muta_status put_notations(struct children *children, const muta_note_form *form)
{
    muta_tree *const tree = children->tree;
    muta_node first = 0;

    for (size_t i = children->count; i > 0; i--) {
        const muta_node child = children->at[i - 1];
        if (muta_tree_name(tree, child) != N_NOTATIONS)
            continue;
        sift_notations(tree, child, form);
        if (muta_tree_first(tree, child))
            first = child;
        else
            drop_child(children, i - 1);
    }
    if (!says_notations(form))
        return MUTA_OK;
    if (!first)
        MUTA_TRY(add_child(children, N_NOTATIONS, NULL, &first));
    if (form->item && !form->is_chord)
        MUTA_TRY(add_tuplets(tree, first, form->item));
    if (form->tie_start)
        MUTA_TRY(add_tied(tree, first, "start"));
    return form->tie_stop ? add_tied(tree, first, "stop") : MUTA_OK;
}

static muta_status put_ties(struct children *children, const muta_note_form *form)
{
    muta_node made;

    /* A cue note cannot have a tie that sounds. */
    for (size_t i = 0; i < children->count; i++)
        if (muta_tree_name(children->tree, children->at[i]) == N_CUE)
            return MUTA_OK;
    if (form->tie_stop) {
        MUTA_TRY(add_child(children, N_TIE, NULL, &made));
        MUTA_TRY(muta_tree_set_attribute(children->tree, made, N_TYPE, "stop"));
    }
    if (form->tie_start) {
        MUTA_TRY(add_child(children, N_TIE, NULL, &made));
        MUTA_TRY(muta_tree_set_attribute(children->tree, made, N_TYPE, "start"));
    }
    return MUTA_OK;
}

static void drop_places(muta_tree *tree, muta_node node)
{
    static const muta_name names[] = {N_DEFAULT_X, N_DEFAULT_Y, N_RELATIVE_X, N_RELATIVE_Y};

    for (size_t i = 0; i < MUTA_LENGTH(names) && muta_tree_at(tree, node)->attribute_count; i++)
        muta_tree_drop_attribute(tree, node, names[i]);
}

/* An accidental marked as a courtesy stays one; others are decided anew where the note now stands.
 */
static void sift_accidental(struct children *children)
{
    static const muta_name courtesies[] = {N_CAUTIONARY, N_EDITORIAL, N_PARENTHESES, N_BRACKET};

    for (size_t i = children->count; i > 0; i--) {
        bool stays = false;
        if (muta_tree_name(children->tree, children->at[i - 1]) != N_ACCIDENTAL)
            continue;
        for (size_t j = 0; j < MUTA_LENGTH(courtesies); j++) {
            const char *const value =
                muta_tree_attribute(children->tree, children->at[i - 1], courtesies[j]);
            stays = stays || (value && strcmp(value, "yes") == 0);
        }
        if (!stays)
            drop_child(children, i - 1);
    }
}

/* The last syllable of a word that several notes share has a line behind it; others have hyphens.
 */
static muta_status draw_out(muta_tree *tree, muta_node lyric)
{
    static const muta_name before[] = {N_SYLLABIC, N_TEXT, N_ELISION};
    const muta_node syllabic = muta_tree_child(tree, lyric, N_SYLLABIC);
    muta_node made;

    if (!muta_tree_child(tree, lyric, N_TEXT) || muta_tree_child(tree, lyric, N_EXTEND) ||
        (syllabic && (muta_names_leaf_is(tree, syllabic, "begin") ||
                      muta_names_leaf_is(tree, syllabic, "middle"))))
        return MUTA_OK;
    return muta_patch_insert(tree, lyric,
                             muta_patch_place(tree, lyric, before, MUTA_LENGTH(before)), N_EXTEND,
                             NULL, &made);
}

static muta_status put_words(struct children *children, const muta_note_form *form)
{
    muta_tree *const tree = children->tree;

    if (form->words == children->parent && !form->is_drawn_out)
        return MUTA_OK;
    drop_named(children, N_LYRIC);
    for (muta_node child = form->words ? muta_tree_first(tree, form->words) : 0; child;
         child = muta_tree_next(tree, child)) {
        muta_node copy;
        if (muta_tree_name(tree, child) != N_LYRIC)
            continue;
        if (children->count == CHILDREN)
            return MUTA_E_RANGE;
        MUTA_TRY(muta_note_form_copy(tree, child, &copy));
        if (form->is_drawn_out)
            MUTA_TRY(draw_out(tree, copy));
        children->at[children->count++] = copy;
    }
    return MUTA_OK;
}

static muta_status put_voice(struct children *children, muta_string voice, uint8_t staff)
{
    char text[24];
    muta_node made;

    if (voice) {
        MUTA_TRY(add_child(children, N_VOICE, NULL, &made));
        muta_tree_at(children->tree, made)->text = voice;
    }
    return staff ? add_child(children, N_STAFF, muta_text_print(staff, text), &made) : MUTA_OK;
}

static muta_status put_pitch(muta_tree *tree, muta_node note, const muta_note_form *form)
{
    const muta_node pitch = muta_tree_child(tree, note, N_PITCH);
    const char octave[] = {(char)('0' + muta_pitch_octave(form->pitch)), '\0'};

    if (!form->has_pitch || !pitch)
        return MUTA_OK;
    MUTA_TRY(muta_patch_pitch(tree, pitch, N_STEP, N_ALTER, form->pitch));
    return muta_patch_leaf(tree, pitch, muta_patch_last(tree, pitch), N_OCTAVE, octave);
}

muta_status muta_note_form_apply(muta_tree *tree, muta_node note, const muta_note_form *form)
{
    static const bool joined[N_COUNT] = {
        [N_CHORD] = true, [N_TIE] = true, [N_VOICE] = true, [N_STAFF] = true};
    static const bool rewritten[N_COUNT] = {
        [N_CHORD] = true, [N_TIE] = true,  [N_VOICE] = true,
        [N_STAFF] = true, [N_TYPE] = true, [N_DURATION] = true,
        [N_DOT] = true,   [N_BEAM] = true, [N_TIME_MODIFICATION] = true};
    struct children children;
    muta_node made;

    MUTA_TRY(put_pitch(tree, note, form));
    MUTA_TRY(take_children(&children, tree, note));
    drop_marked(&children, form->item || form->grace ? rewritten : joined);
    if (form->grace || (form->item && form->item->type >= 2))
        drop_named(&children, N_STEM);
    sift_accidental(&children);
    MUTA_TRY(put_notations(&children, form));
    if (form->is_chord)
        MUTA_TRY(add_child(&children, N_CHORD, NULL, &made));
    if (form->grace)
        MUTA_TRY(add_grace(&children, form));
    MUTA_TRY(put_ties(&children, form)); /* a grace note is tied to what it leads to, too */
    if (form->item) {
        MUTA_TRY(add_duration(&children, form->duration));
        MUTA_TRY(add_value(&children, form));
        if (!form->is_chord)
            MUTA_TRY(add_beams(&children, form->item));
    }
    if (form->stem && form->item && form->item->type < 2)
        MUTA_TRY(add_child(&children, N_STEM, form->stem > 0 ? "up" : "down", &made));
    MUTA_TRY(put_voice(&children, form->voice, form->staff));
    MUTA_TRY(put_words(&children, form));
    for (size_t i = 0; i < children.count; i++) {
        const muta_name name = muta_tree_name(tree, children.at[i]);
        if (name == N_STEM || name == N_ACCIDENTAL)
            drop_places(tree, children.at[i]);
    }
    put_back(&children);
    drop_places(tree, note);
    return MUTA_OK;
}

muta_status muta_note_form_beams(muta_tree *tree, muta_node note, const muta_item *item)
{
    struct children children;

    MUTA_TRY(take_children(&children, tree, note));
    drop_named(&children, N_BEAM);
    MUTA_TRY(add_beams(&children, item));
    put_back(&children);
    return MUTA_OK;
}

muta_status muta_note_form_notations(muta_tree *tree, muta_node note, muta_node *notations)
{
    struct children children;

    *notations = muta_tree_child(tree, note, N_NOTATIONS);
    if (*notations)
        return MUTA_OK;
    MUTA_TRY(take_children(&children, tree, note));
    MUTA_TRY(add_child(&children, N_NOTATIONS, NULL, notations));
    put_back(&children);
    return MUTA_OK;
}

muta_status muta_note_form_marks(muta_tree *tree, muta_node from, bool begins, muta_node to)
{
    const muta_note_form form = {.begins = begins, .ends = true};
    const muta_node said = muta_tree_child(tree, from, N_NOTATIONS);
    const muta_node has = muta_tree_child(tree, to, N_NOTATIONS);
    struct children children;
    muta_node copy;

    if (!said || (has && muta_tree_child(tree, has, N_FERMATA)))
        return MUTA_OK;
    MUTA_TRY(muta_note_form_copy(tree, said, &copy));
    sift_notations(tree, copy, &form);
    if (!muta_tree_first(tree, copy))
        return MUTA_OK;
    MUTA_TRY(take_children(&children, tree, to));
    if (children.count == CHILDREN)
        return MUTA_E_RANGE;
    children.at[children.count++] = copy;
    put_back(&children);
    return MUTA_OK;
}

muta_status muta_note_form_new(muta_tree *tree, muta_node like, const char *instrument,
                               muta_node *note)
{
    struct children children;
    muta_node made;

    MUTA_TRY(muta_tree_add(tree, MUTA_ELEMENT, N_NOTE, note));
    muta_tree_at(tree, *note)->before = muta_tree_at(tree, like)->before;
    MUTA_TRY(take_children(&children, tree, *note));
    MUTA_TRY(add_child(&children, N_PITCH, NULL, &made));
    if (instrument) {
        MUTA_TRY(add_child(&children, N_INSTRUMENT, NULL, &made));
        MUTA_TRY(muta_tree_set_attribute(tree, made, N_ID, instrument));
    }
    put_back(&children);
    return MUTA_OK;
}

muta_status muta_note_form_rest(muta_tree *tree, muta_node like, const muta_item *item,
                                muta_fraction duration, muta_string voice, uint8_t staff,
                                bool is_hidden, muta_node *rest)
{
    const muta_note_form form = {.item = item};
    struct children children;
    muta_node made;

    MUTA_TRY(muta_tree_add(tree, MUTA_ELEMENT, N_NOTE, rest));
    muta_tree_at(tree, *rest)->before = muta_tree_at(tree, like)->before;
    if (is_hidden)
        MUTA_TRY(muta_tree_set_attribute(tree, *rest, N_PRINT_OBJECT, "no"));
    MUTA_TRY(take_children(&children, tree, *rest));
    MUTA_TRY(add_child(&children, N_REST, NULL, &made));
    if (item->is_whole_bar)
        MUTA_TRY(muta_tree_set_attribute(tree, made, N_MEASURE, "yes"));
    MUTA_TRY(add_duration(&children, duration));
    MUTA_TRY(put_voice(&children, voice, staff));
    MUTA_TRY(add_value(&children, &form));
    for (size_t i = 0; i < MUTA_TUPLET_LEVELS; i++)
        if (item->tuplets[i].begins || item->tuplets[i].ends) {
            MUTA_TRY(add_child(&children, N_NOTATIONS, NULL, &made));
            MUTA_TRY(add_tuplets(tree, made, item));
            break;
        }
    put_back(&children);
    return MUTA_OK;
}

muta_status muta_note_form_move(muta_tree *tree, muta_node like, bool forward,
                                muta_fraction duration, muta_string voice, uint8_t staff,
                                muta_node *move)
{
    struct children children;

    MUTA_TRY(muta_tree_add(tree, MUTA_ELEMENT, forward ? N_FORWARD : N_BACKUP, move));
    muta_tree_at(tree, *move)->before = muta_tree_at(tree, like)->before;
    MUTA_TRY(take_children(&children, tree, *move));
    MUTA_TRY(add_duration(&children, duration));
    if (forward)
        MUTA_TRY(put_voice(&children, voice, staff));
    put_back(&children);
    return MUTA_OK;
}

/* Whether an element's id names another one: a copy names it too. Source: MusicXML 4.0, IDREF. */
static bool refers(muta_name name)
{
    return name == N_INSTRUMENT || name == N_MIDI_INSTRUMENT || name == N_MIDI_DEVICE ||
           name == N_PLAY;
}

muta_status muta_note_form_copy(muta_tree *tree, muta_node node, muta_node *copy)
{
    muta_tree_node from = *muta_tree_at(tree, node);
    muta_node last = 0;

    MUTA_TRY(muta_tree_add(tree, (muta_node_kind)from.kind, from.name, copy));
    muta_tree_node *const to = muta_tree_at(tree, *copy);
    const muta_node_kind kind = (muta_node_kind)from.kind;
    to->kind = (uint8_t)kind;
    to->text = from.text;
    to->before = from.before;
    to->tail = from.tail;
    to->line = from.line;
    to->open_form = from.open_form;
    if (from.attribute_count > 0) {
        muta_attribute *at;
        size_t kept = 0;
        MUTA_TRY(muta_tree_add_attributes(tree, *copy, from.attribute_count, &at));
        for (uint32_t i = 0; i < from.attribute_count; i++) {
            const muta_attribute of = *muta_tree_attribute_at(tree, from.attributes + i);
            if (of.name != N_ID || refers(from.name))
                at[kept++] = of;
        }
        muta_tree_at(tree, *copy)->attribute_count = (uint8_t)kept;
    }
    for (muta_node child = from.child; child; child = muta_tree_next(tree, child)) {
        muta_node made;
        MUTA_TRY(muta_note_form_copy(tree, child, &made));
        muta_tree_insert(tree, *copy, last, made);
        last = made;
    }
    return MUTA_OK;
}
