/* bar.c: the notes of a bar, with the cursor that backup and forward move. */
#include "musicxml/build.h"
#include "musicxml/marks.h"
#include "mutanza/limits.h"
#include <string.h>

static void doubt(muta_reading *reading, muta_bar_doubt why)
{
    muta_part_bar *const bar = &reading->part->bars[reading->bar];

    if (bar->doubt == MUTA_BAR_SURE)
        bar->doubt = why;
}

/* The text of a leaf; 0 when there is none. */
static muta_string string_of(const muta_tree *tree, muta_node parent, muta_name name)
{
    const muta_node leaf = muta_tree_child(tree, parent, name);

    return leaf ? muta_tree_leaf_string(tree, leaf) : 0;
}

/* A duration that was not read lately. */
static muta_fraction read_duration(muta_reading *reading, muta_node parent)
{
    muta_fraction divisions;

    if (!muta_build_number(&reading->score->tree, parent, N_DURATION, &divisions) ||
        muta_fraction_compare(divisions, MUTA_ZERO) < 0) {
        muta_build_warn(reading, parent, "a duration is missing, negative or no number");
        doubt(reading, MUTA_BAR_DURATION);
        return (muta_fraction){0, 0};
    }
    if (!muta_fraction_is_valid(reading->divisions)) {
        doubt(reading, MUTA_BAR_DIVISIONS);
        return (muta_fraction){0, 0};
    }
    if (!reading->said_divisions) {
        muta_build_warn(reading, parent, "divisions are not said; taken for 1 to the quarter");
        reading->said_divisions = true;
    }
    const muta_fraction quarters = muta_fraction_divide(divisions, reading->divisions);
    if (!muta_fraction_is_valid(quarters) ||
        muta_fraction_compare(quarters, muta_fraction_of(MUTA_LIMIT_BAR_QUARTERS, 1)) > 0) {
        muta_build_warn(reading, parent, "a duration is longer than any bar");
        doubt(reading, MUTA_BAR_LENGTH);
        return (muta_fraction){0, 0};
    }
    return quarters;
}

muta_fraction muta_build_duration(muta_reading *reading, muta_node parent)
{
    const muta_string text = string_of(&reading->score->tree, parent, N_DURATION);
    muta_lasting *const known = &reading->lastings[text % MUTA_LASTINGS];

    if (text && known->text == text &&
        muta_fraction_compare(known->divisions, reading->divisions) == 0)
        return known->quarters;
    const muta_fraction quarters = read_duration(reading, parent);
    if (!muta_fraction_is_valid(quarters))
        return MUTA_ZERO;
    *known = (muta_lasting){text, reading->divisions, quarters};
    return quarters;
}

/* What the children of a note say, as far as one pass over them tells. */
struct found {
    muta_node pitch;
    muta_node display;
    muta_node duration;
    muta_node accidental;
    muta_node instrument;
    muta_node stem;
    muta_node type;
    muta_node tuplet; /* time-modification */
    int dots;
    muta_string voice;
    uint8_t staff;
    uint32_t flags;
    bool misplaced; /* its children are not in the order of the schema */
    muta_marks marks;
};

/* The order of the schema, as far as it matters for reading. */
static int slot(muta_name name)
{
    switch (name) {
    case N_GRACE:
    case N_CUE:
        return 1;
    case N_CHORD:
        return 2;
    case N_PITCH:
    case N_UNPITCHED:
    case N_REST:
        return 3;
    case N_DURATION:
        return 4;
    case N_TIE:
        return 5;
    case N_VOICE:
        return 6;
    case N_TYPE:
        return 7;
    case N_DOT:
        return 8;
    case N_ACCIDENTAL:
        return 9;
    case N_TIME_MODIFICATION:
        return 10;
    case N_STEM:
        return 11;
    case N_STAFF:
        return 12;
    case N_BEAM:
        return 13;
    case N_NOTATIONS:
        return 14;
    case N_LYRIC:
        return 15;
    default:
        return 0;
    }
}

static uint16_t tie_flag(const muta_tree *tree, muta_node tie)
{
    const char *const type = muta_tree_attribute(tree, tie, N_TYPE);

    if (!type)
        return 0;
    return strcmp(type, "start") == 0  ? MUTA_NOTE_TIE_START
           : strcmp(type, "stop") == 0 ? MUTA_NOTE_TIE_STOP
                                       : 0;
}

/* The ends of what is written as one figure; of nested tuplets the outer one. */
static uint32_t group_flags(const muta_tree *tree, muta_node notations)
{
    uint32_t flags = 0;

    for (muta_node child = muta_tree_first(tree, notations); child;
         child = muta_tree_next(tree, child)) {
        const muta_name name = muta_tree_name(tree, child);
        const char *const number = muta_tree_attribute(tree, child, N_NUMBER);
        const char *const type = muta_tree_attribute(tree, child, N_TYPE);
        if (name == N_ORNAMENTS)
            flags |= group_flags(tree, child);
        if ((name != N_TUPLET && name != N_TREMOLO) || !type || (number && number[0] != '1'))
            continue;
        flags |= strcmp(type, "start") == 0  ? MUTA_NOTE_GROUP_BEGIN
                 : strcmp(type, "stop") == 0 ? MUTA_NOTE_GROUP_END
                                             : 0U;
    }
    return flags;
}

/* A cue note cannot have `tie`, and a few programs write `tied` alone. */
static uint16_t tied_flags(const muta_tree *tree, muta_node notations)
{
    uint16_t flags = 0;

    for (muta_node child = muta_tree_first(tree, notations); child;
         child = muta_tree_next(tree, child))
        if (muta_tree_name(tree, child) == N_TIED)
            flags |= tie_flag(tree, child);
    /* Both ends on one note are a tie that hangs at a volta, not a note in the middle of a chain.
     */
    return flags == (MUTA_NOTE_TIE_START | MUTA_NOTE_TIE_STOP) ? 0 : flags;
}

static uint16_t beam_flags(const muta_tree *tree, muta_node beam)
{
    const char *const number = muta_tree_attribute(tree, beam, N_NUMBER);

    if (number && strcmp(number, "1") != 0)
        return 0;
    return muta_names_leaf_is(tree, beam, "begin") ? MUTA_NOTE_BEAMED | MUTA_NOTE_BEAM_BEGIN
                                                   : MUTA_NOTE_BEAMED;
}

static bool says_yes(const muta_tree *tree, muta_node node, muta_name attribute)
{
    const char *const value = muta_tree_attribute(tree, node, attribute);

    return value && strcmp(value, "yes") == 0;
}

static uint16_t courtesy_flag(const muta_tree *tree, muta_node accidental)
{
    return says_yes(tree, accidental, N_CAUTIONARY) || says_yes(tree, accidental, N_EDITORIAL) ||
                   says_yes(tree, accidental, N_PARENTHESES) ||
                   says_yes(tree, accidental, N_BRACKET)
               ? MUTA_NOTE_COURTESY
               : 0;
}

/* Whether a verse has a mark of punctuation here. */
static uint32_t clause_flag(const muta_tree *tree, muta_node lyric)
{
    const muta_node words = muta_tree_child(tree, lyric, N_TEXT);
    const muta_text text = words ? muta_text_trim(muta_tree_leaf(tree, words)) : (muta_text){"", 0};

    return text.length > 0 && strchr(".,;:!?", text.at[text.length - 1]) ? MUTA_NOTE_CLAUSE : 0U;
}

static void look_at(const muta_tree *tree, muta_node child, struct found *found)
{
    switch (muta_tree_name(tree, child)) {
    case N_GRACE:
        found->flags |= MUTA_NOTE_GRACE;
        break;
    case N_CUE:
        found->flags |= MUTA_NOTE_CUE;
        break;
    case N_CHORD:
        found->flags |= MUTA_NOTE_CHORD;
        break;
    case N_REST:
        found->flags |= MUTA_NOTE_REST;
        break;
    case N_UNPITCHED:
        found->display = child;
        found->flags |= MUTA_NOTE_FIXED;
        break;
    case N_PITCH:
        found->pitch = child;
        break;
    case N_DURATION:
        found->duration = child;
        break;
    case N_TIE:
        found->flags |= tie_flag(tree, child);
        break;
    case N_VOICE:
        found->voice = muta_tree_leaf_string(tree, child);
        break;
    case N_TYPE:
        found->type = child;
        break;
    case N_DOT:
        found->dots++;
        break;
    case N_TIME_MODIFICATION:
        found->tuplet = child;
        found->flags |= MUTA_NOTE_TUPLET;
        break;
    case N_ACCIDENTAL:
        found->accidental = child;
        found->flags |= courtesy_flag(tree, child);
        break;
    case N_INSTRUMENT:
        found->instrument = child;
        break;
    case N_STEM:
        found->stem = child;
        break;
    case N_STAFF:
        found->staff = muta_build_staff(muta_tree_leaf(tree, child), 1);
        break;
    case N_BEAM:
        found->flags |= beam_flags(tree, child);
        break;
    case N_LYRIC:
        found->flags |= MUTA_NOTE_LYRIC | clause_flag(tree, child);
        break;
    case N_NOTATIONS:
        if (!(found->flags & (MUTA_NOTE_TIE_START | MUTA_NOTE_TIE_STOP)))
            found->flags |= tied_flags(tree, child);
        found->flags |= group_flags(tree, child);
        muta_build_marks(tree, child, &found->marks);
        break;
    default:
        break;
    }
}

static void look(const muta_tree *tree, muta_node note, struct found *found)
{
    int last = 0;

    *found = (struct found){.staff = 1};
    for (muta_node child = muta_tree_first(tree, note); child;
         child = muta_tree_next(tree, child)) {
        const int here = slot(muta_tree_name(tree, child));
        found->misplaced = found->misplaced || (here > 0 && here < last);
        last = here > 0 ? here : last;
        look_at(tree, child, found);
    }
}

/* Whether two labels are alike, white space at their ends aside. */
static bool is_same_label(const muta_tree *tree, muta_string a, muta_string b)
{
    const muta_text one = muta_tree_trimmed(tree, a);
    const muta_text two = muta_tree_trimmed(tree, b);

    return one.length == two.length && memcmp(one.at, two.at, one.length) == 0;
}

/* The index of the voice with this label, added when it is new. */
static muta_status voice_of(muta_reading *reading, muta_string label, uint16_t *voice)
{
    muta_part *const part = reading->part;

    for (size_t i = 0; i < part->voices.count; i++)
        if (part->voices.at[i].label == label ||
            is_same_label(&reading->score->tree, part->voices.at[i].label, label)) {
            *voice = (uint16_t)i;
            return MUTA_OK;
        }
    if (part->voices.count > UINT16_MAX)
        return MUTA_E_RANGE;
    muta_voice *const added = MUTA_PUSH(&reading->part->arena, &part->voices);
    if (!added)
        return MUTA_E_MEMORY;
    added->label = label;
    *voice = (uint16_t)(part->voices.count - 1);
    return MUTA_OK;
}

/* Whether the instrument that a note names is percussion without pitch. */
static bool is_unpitched(const muta_reading *reading, muta_node instrument)
{
    const muta_tree *const tree = &reading->score->tree;
    const char *const id = muta_tree_attribute(tree, instrument, N_ID);

    for (muta_node child = muta_tree_first(tree, reading->part_node); child && id;
         child = muta_tree_next(tree, child)) {
        if (muta_tree_name(tree, child) != N_MIDI_INSTRUMENT)
            continue;
        const char *const other = muta_tree_attribute(tree, child, N_ID);
        if (other && strcmp(id, other) == 0)
            return muta_tree_child(tree, child, N_MIDI_UNPITCHED) != 0;
    }
    return false;
}

static muta_stem stem_of(const muta_tree *tree, muta_node stem)
{
    return !stem                                    ? MUTA_STEM_OTHER
           : muta_names_leaf_is(tree, stem, "up")   ? MUTA_STEM_UP
           : muta_names_leaf_is(tree, stem, "down") ? MUTA_STEM_DOWN
                                                    : MUTA_STEM_OTHER;
}

static void read_sound(muta_reading *reading, muta_node node, const struct found *found,
                       muta_note *note)
{
    const muta_tree *const tree = &reading->score->tree;

    if (found->pitch) {
        if (!muta_build_pitch(tree, found->pitch, N_STEP, N_ALTER, N_OCTAVE, &note->pitch)) {
            muta_build_warn(reading, node, "a pitch is no pitch and is left as it is");
            note->flags |= MUTA_NOTE_FIXED;
        }
        if (reading->fixed_staff[note->staff] || reading->part->is_fixed ||
            (found->instrument && is_unpitched(reading, found->instrument)))
            note->flags |= MUTA_NOTE_FIXED;
    } else if (found->display) {
        if (!muta_build_pitch(tree, found->display, N_DISPLAY_STEP, 0, N_DISPLAY_OCTAVE,
                              &note->pitch))
            note->pitch = (muta_pitch){34, 0}; /* the middle of the staff */
    } else {
        note->flags |= MUTA_NOTE_REST;
    }
    note->old = note->pitch;
    if (reading->tab_staff[note->staff])
        note->flags |= MUTA_NOTE_TAB;
    if (found->accidental)
        note->sign = (uint8_t)muta_build_sign(tree, found->accidental);
    note->stem = (uint8_t)stem_of(tree, found->stem);
}

/* Source: MusicXML 4.0, note-type-value; in quarters. */
static const struct {
    const char *name;
    int64_t top;
    int64_t bottom;
} note_types[] = {
    {"quarter", 1, 1},  {"eighth", 1, 2}, {"16th", 1, 4},  {"half", 2, 1},    {"32nd", 1, 8},
    {"64th", 1, 16},    {"128th", 1, 32}, {"whole", 4, 1}, {"256th", 1, 64},  {"512th", 1, 128},
    {"1024th", 1, 256}, {"breve", 8, 1},  {"long", 16, 1}, {"maxima", 32, 1},
};

/* How long a type with its dots lasts; invalid when it is none. */
static muta_fraction type_duration(const muta_tree *tree, muta_node type, int dots)
{
    muta_fraction lasts = {0, 0};

    for (size_t i = 0; i < MUTA_LENGTH(note_types); i++)
        if (muta_names_leaf_is(tree, type, note_types[i].name))
            lasts = muta_fraction_of(note_types[i].top, note_types[i].bottom);
    for (int dot = 1; dot <= dots && dot < 8; dot++)
        lasts = muta_fraction_multiply(
            lasts, muta_fraction_of((INT64_C(2) << dot) - 1, (INT64_C(2) << dot) - 2));
    return lasts;
}

/* How long type, dots and tuplet say that a note lasts; invalid when they do not say. */
static muta_fraction typed_duration(muta_reading *reading, const struct found *found)
{
    const muta_tree *const tree = &reading->score->tree;
    const muta_typed *const last = &reading->typed;
    const muta_typed typed = {.type = muta_tree_leaf_string(tree, found->type),
                              .actual = string_of(tree, found->tuplet, N_ACTUAL_NOTES),
                              .normal = string_of(tree, found->tuplet, N_NORMAL_NOTES),
                              .dots = found->dots};
    muta_fraction actual;
    muta_fraction normal;

    if (typed.type && typed.type == last->type && typed.actual == last->actual &&
        typed.normal == last->normal && typed.dots == last->dots)
        return last->lasts;
    reading->typed = typed;
    reading->typed.lasts =
        muta_build_number(tree, found->tuplet, N_ACTUAL_NOTES, &actual) &&
                muta_build_number(tree, found->tuplet, N_NORMAL_NOTES, &normal)
            ? muta_fraction_divide(
                  muta_fraction_multiply(type_duration(tree, found->type, found->dots), normal),
                  actual)
            : (muta_fraction){0, 0};
    return reading->typed.lasts;
}

/* Whether a duration is what a typed one is rounded to: less than a division away. */
static bool is_rounded(const muta_reading *reading, muta_fraction lasts, muta_fraction exact)
{
    const muta_fraction away = muta_fraction_subtract(lasts, exact);
    const muta_fraction size = away.top < 0 ? muta_fraction_subtract(MUTA_ZERO, away) : away;

    return muta_fraction_is_valid(size) &&
           muta_fraction_compare(muta_fraction_multiply(size, reading->divisions),
                                 muta_fraction_of(1, 1)) < 0;
}

/*
 * How many notes of a tuplet, from one on, are rounded so that together they last exactly as long
 * as their types tell; 0 when that is not so.
 */
static size_t count_rounded(muta_reading *reading, muta_node node)
{
    enum {
        MOST = 24
    };
    const muta_tree *const tree = &reading->score->tree;
    muta_fraction sum = MUTA_ZERO;
    muta_fraction sum_exact = MUTA_ZERO;
    size_t count = 0;

    for (; node && count < MOST; node = muta_tree_next(tree, node)) {
        struct found found;
        if (muta_tree_name(tree, node) != N_NOTE)
            continue;
        look(tree, node, &found);
        if (found.flags & (MUTA_NOTE_CHORD | MUTA_NOTE_GRACE))
            continue;
        const muta_fraction exact =
            found.tuplet && found.type ? typed_duration(reading, &found) : (muta_fraction){0, 0};
        muta_fraction lasts;
        if (!muta_build_number(tree, node, N_DURATION, &lasts))
            return 0;
        lasts = muta_fraction_divide(lasts, reading->divisions);
        if (!is_rounded(reading, lasts, exact))
            return 0;
        sum = muta_fraction_add(sum, lasts);
        sum_exact = muta_fraction_add(sum_exact, exact);
        count++;
        if (muta_fraction_compare(sum, sum_exact) == 0)
            return count;
    }
    return 0;
}

/*
 * Programs that count in few divisions round the notes of tuplets: the exact time is then the one
 * that the note's type tells. Rounding is less than a division, and either less than a twentieth,
 * or such that a group of them lasts as long as it should.
 */
static muta_fraction unrounded(muta_reading *reading, muta_node node, const struct found *found,
                               muta_fraction lasts)
{
    const bool is_chord = found->flags & MUTA_NOTE_CHORD;
    const bool in_group = reading->rounded > 0;

    reading->rounded -= in_group && !is_chord && !(found->flags & MUTA_NOTE_GRACE);
    if (!found->tuplet || !found->type)
        return lasts;
    const muta_fraction exact = typed_duration(reading, found);
    if (!is_rounded(reading, lasts, exact) || muta_fraction_compare(lasts, exact) == 0)
        return lasts;
    const muta_fraction away = muta_fraction_subtract(lasts, exact);
    const muta_fraction size = away.top < 0 ? muta_fraction_subtract(MUTA_ZERO, away) : away;
    if (in_group || is_chord || muta_fraction_compare(muta_fraction_scale(size, 20), exact) < 0)
        return exact;
    const size_t count = count_rounded(reading, node);
    reading->rounded = count > 0 ? count - 1 : 0;
    return count > 0 ? exact : lasts;
}

/* Moves the cursor to where the file's own numbers lead, and to the exact time that stands there.
 */
static void go_to(muta_reading *reading, muta_fraction raw)
{
    reading->raw = raw;
    reading->at = raw;
    for (size_t i = 0; i < reading->drifts.count; i++)
        if (muta_fraction_compare(reading->drifts.at[i].raw, raw) == 0)
            reading->at = reading->drifts.at[i].exact;
}

/* Remembers where rounding has led, for a backup that comes here again. */
static muta_status note_drift(muta_reading *reading)
{
    if (muta_fraction_compare(reading->at, reading->raw) == 0)
        return MUTA_OK;
    muta_drift *const drift = MUTA_PUSH(&reading->part->arena, &reading->drifts);
    if (!drift)
        return MUTA_E_MEMORY;
    *drift = (muta_drift){reading->raw, reading->at};
    return MUTA_OK;
}

/* Onset and duration; moves the cursor. */
static muta_status read_time(muta_reading *reading, muta_node node, const struct found *found,
                             muta_note *note)
{
    const bool grace = note->flags & MUTA_NOTE_GRACE;
    const bool chord = note->flags & MUTA_NOTE_CHORD;
    const muta_fraction raw = grace ? MUTA_ZERO : muta_build_duration(reading, node);

    note->duration = unrounded(reading, node, found, raw);
    if (!grace && note->duration.top == 0 && found->duration &&
        reading->part->bars[reading->bar].doubt == MUTA_BAR_SURE) {
        muta_build_warn(reading, node, "a note without time is read as a grace note");
        note->flags |= MUTA_NOTE_GRACE;
    }
    if (!found->type && !(note->flags & (MUTA_NOTE_REST | MUTA_NOTE_GRACE)))
        muta_build_warn(reading, node, "a note does not say its type");
    note->onset = chord ? reading->previous : reading->at;
    reading->previous = note->onset;
    const muta_fraction end = muta_fraction_add(note->onset, note->duration);
    reading->note_end = muta_fraction_max(reading->note_end, end);
    if (chord)
        return MUTA_OK;
    reading->at = end;
    reading->raw = muta_fraction_add(reading->raw, raw);
    return note_drift(reading);
}

static muta_status read_note(muta_reading *reading, muta_node node)
{
    struct found found;
    muta_part *const part = reading->part;
    muta_note *const note = MUTA_PUSH(&reading->part->arena, &part->notes);

    if (!note)
        return MUTA_E_MEMORY;
    look(&reading->score->tree, node, &found);
    *note = (muta_note){
        .node = node,
        .bar = (uint32_t)reading->bar,
        .tied_from = MUTA_NO_NOTE,
        .tied_to = MUTA_NO_NOTE,
        .flags = found.flags | found.marks.flags,
        .ornament = found.marks.ornament,
        .above = found.marks.above,
        .below = found.marks.below,
        .staff = found.staff,
    };
    if (found.misplaced)
        muta_build_warn(reading, node, "what a note holds is not in the order of the schema");
    const char *const shown = muta_tree_attribute(&reading->score->tree, node, N_PRINT_OBJECT);
    if (shown && strcmp(shown, "no") == 0)
        note->flags |= MUTA_NOTE_HIDDEN;
    if (note->staff > part->staves)
        part->staves = note->staff;
    /* A syllable under any member of a chord is the chord's. */
    for (muta_note *head = note; (note->flags & MUTA_NOTE_LYRIC) &&
                                 (head->flags & MUTA_NOTE_CHORD) && head > part->notes.at;)
        (--head)->flags |= MUTA_NOTE_LYRIC;
    MUTA_TRY(voice_of(reading, found.voice, &note->voice));
    MUTA_TRY(read_time(reading, node, &found, note));
    read_sound(reading, node, &found, note);
    return MUTA_OK;
}

static void move_cursor(muta_reading *reading, muta_node node, bool forward)
{
    const muta_fraction by = muta_build_duration(reading, node);

    muta_fraction raw =
        forward ? muta_fraction_add(reading->raw, by) : muta_fraction_subtract(reading->raw, by);
    if (muta_fraction_compare(raw, MUTA_ZERO) < 0) {
        muta_build_warn(reading, node, "a backup goes back past the start of its bar");
        raw = MUTA_ZERO;
    }
    go_to(reading, raw);
    reading->cursor_end = muta_fraction_max(reading->cursor_end, reading->at);
    reading->previous = reading->at;
}

static muta_status read_harmony(muta_reading *reading, muta_node node)
{
    const muta_tree *const tree = &reading->score->tree;
    const muta_node staff = muta_tree_child(tree, node, N_STAFF);
    muta_fraction offset = MUTA_ZERO;
    muta_harmony *const harmony = MUTA_PUSH(&reading->part->arena, &reading->part->harmonies);

    if (!harmony)
        return MUTA_E_MEMORY;
    if (muta_build_number(tree, node, N_OFFSET, &offset) &&
        muta_fraction_is_valid(reading->divisions))
        offset = muta_fraction_divide(offset, reading->divisions);
    *harmony = (muta_harmony){
        .at = {(uint32_t)reading->bar, staff ? muta_build_staff(muta_tree_leaf(tree, staff), 1) : 1,
               muta_fraction_add(reading->at, offset)},
        .node = node,
    };
    return MUTA_OK;
}

/* Figures stand before the note that they belong to. */
static muta_status read_figures(muta_reading *reading, muta_node node)
{
    muta_figures *const figures = MUTA_PUSH(&reading->part->arena, &reading->part->figures);

    if (!figures)
        return MUTA_E_MEMORY;
    *figures = (muta_figures){node, (uint32_t)reading->part->notes.count};
    return MUTA_OK;
}

static muta_status read_child(muta_reading *reading, muta_node child)
{
    switch (muta_tree_name(&reading->score->tree, child)) {
    case N_NOTE:
        return read_note(reading, child);
    case N_BACKUP:
        move_cursor(reading, child, false);
        return MUTA_OK;
    case N_FORWARD:
        move_cursor(reading, child, true);
        return MUTA_OK;
    case N_ATTRIBUTES:
        MUTA_TRY(muta_build_attributes(reading, child));
        break;
    case N_HARMONY:
        MUTA_TRY(read_harmony(reading, child));
        break;
    case N_FIGURED_BASS:
        MUTA_TRY(read_figures(reading, child));
        break;
    default:
        break;
    }
    return muta_build_thing(reading, child);
}

/* A beam must end where its voice goes on without it; a missing end is drawn on to the bar line. */
static void check_beams(const muta_reading *reading, const muta_part_bar *bar)
{
    for (uint32_t i = bar->first; i < bar->first + bar->count; i++) {
        const muta_note *const note = &reading->part->notes.at[i];
        if (!(note->flags & MUTA_NOTE_BEAM_BEGIN) || (note->flags & MUTA_NOTE_GRACE))
            continue;
        uint32_t next = i + 1;
        while (next < bar->first + bar->count &&
               (reading->part->notes.at[next].voice != note->voice ||
                (reading->part->notes.at[next].flags & (MUTA_NOTE_CHORD | MUTA_NOTE_GRACE))))
            next++;
        if (next < bar->first + bar->count &&
            !(reading->part->notes.at[next].flags & (MUTA_NOTE_BEAMED | MUTA_NOTE_REST)))
            muta_build_warn(reading, note->node, "a beam begins and does not end");
    }
}

/* Bars end with their longest voice; a forward counts where no note stands, or where it fills up
 * what is missing of the metre. */
static void measure(muta_reading *reading, muta_part_bar *bar)
{
    const muta_bar *const grid = &reading->score->bars[reading->bar];
    const bool has_notes = muta_fraction_compare(reading->note_end, MUTA_ZERO) > 0;

    const bool is_filled =
        muta_fraction_compare(reading->cursor_end, reading->metre->length) == 0 &&
        muta_fraction_compare(reading->note_end, reading->cursor_end) < 0;

    bar->length = has_notes && !is_filled ? reading->note_end : reading->cursor_end;
    if (bar->length.top == 0 && muta_fraction_is_valid(reading->metre->length))
        bar->length = reading->metre->length;
    if (muta_fraction_compare(bar->length, muta_fraction_of(MUTA_LIMIT_BAR_QUARTERS, 1)) > 0)
        doubt(reading, MUTA_BAR_LENGTH);
    if (!has_notes || grid->implicit || !muta_fraction_is_valid(reading->metre->length))
        return;
    if (muta_fraction_compare(bar->length, reading->metre->length) > 0)
        muta_build_warn(reading, bar->cell, "a bar is longer than its metre");
}

muta_status muta_build_bar(muta_reading *reading)
{
    const muta_tree *const tree = &reading->score->tree;
    muta_part *const part = reading->part;
    muta_part_bar *const bar = &part->bars[reading->bar];

    reading->at = MUTA_ZERO;
    reading->raw = MUTA_ZERO;
    reading->rounded = 0;
    reading->drifts.count = 0;
    reading->previous = MUTA_ZERO;
    reading->note_end = MUTA_ZERO;
    reading->cursor_end = MUTA_ZERO;
    bar->first = (uint32_t)part->notes.count;
    bar->first_thing = (uint32_t)part->things.count;
    bar->length = MUTA_ZERO;
    bar->metre = reading->metre;
    if (!bar->cell)
        return MUTA_OK;
    for (muta_node child = muta_tree_first(tree, bar->cell); child;
         child = muta_tree_next(tree, child))
        MUTA_TRY(read_child(reading, child));
    bar->metre = reading->metre;
    bar->count = (uint32_t)part->notes.count - bar->first;
    bar->thing_count = (uint32_t)part->things.count - bar->first_thing;
    if (!muta_fraction_is_valid(reading->divisions) && bar->doubt == MUTA_BAR_SURE)
        bar->doubt = MUTA_BAR_DIVISIONS;
    check_beams(reading, bar);
    measure(reading, bar);
    return MUTA_OK;
}
