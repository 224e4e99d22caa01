/* attributes.c: what an `attributes` element puts in force. */
#include "musicxml/build.h"
#include "theory/instrument.h"
#include <string.h>

static muta_moment moment(const muta_reading *reading, muta_node node)
{
    const char *const number = muta_tree_attribute(&reading->score->tree, node, N_NUMBER);

    return (muta_moment){
        .bar = (uint32_t)reading->bar,
        .staff = number ? muta_build_staff((muta_text){number, strlen(number)}, MUTA_ALL_STAVES)
                        : MUTA_ALL_STAVES,
        .onset = reading->at,
    };
}

static muta_status read_key(muta_reading *reading, muta_node node)
{
    const muta_tree *const tree = &reading->score->tree;
    muta_key_change *const change = MUTA_PUSH(&reading->part->arena, &reading->part->keys);
    const muta_node mode = muta_tree_child(tree, node, N_MODE);
    char text[16] = "";

    if (!change)
        return MUTA_E_MEMORY;
    change->at = moment(reading, node);
    change->node = node;
    change->is_traditional = muta_build_integer(tree, node, N_FIFTHS, &change->key.fifths);
    if (change->key.fifths < -99 || change->key.fifths > 99) {
        muta_build_warn(reading, node, "a key signature of so many accidentals is left as it is");
        change->is_traditional = false;
        change->key.fifths = 0;
    }
    if (mode) {
        const muta_text view = muta_tree_leaf(tree, mode);
        if (view.length < sizeof text)
            memcpy(text, view.at, view.length);
        change->has_mode = muta_mode_parse(text, &change->key.mode);
    }
    change->old = change->key;
    reading->part->has_key = true;
    return MUTA_OK;
}

/* Whether a part is played on an instrument with pitches: a clef for percussion over a violin
 * is a slip of the file's. */
static bool plays_pitches(const muta_part *part)
{
    muta_instrument instrument;

    return muta_part_instrument(part, &instrument) &&
           !muta_text_is(instrument.family, "percussion");
}

static muta_status read_clef(muta_reading *reading, muta_node node)
{
    const muta_tree *const tree = &reading->score->tree;
    const muta_node sign = muta_tree_child(tree, node, N_SIGN);
    const muta_clef_row *const row =
        muta_clef_named(sign ? muta_tree_leaf(tree, sign) : (muta_text){"", 0});
    int32_t line;
    int32_t octaves;
    muta_clef_change *const change = MUTA_PUSH(&reading->part->arena, &reading->part->clefs);

    if (!change)
        return MUTA_E_MEMORY;
    if (!muta_build_integer(tree, node, N_LINE, &line) || line < -9 || line > 19)
        line = row->line;
    if (!muta_build_integer(tree, node, N_CLEF_OCTAVE_CHANGE, &octaves) || octaves < -9 ||
        octaves > 9)
        octaves = 0;
    *change = (muta_clef_change){moment(reading, node), node, row->sign,
                                 muta_clef_middle(row, line) + octaves * 7};
    /* A clef without a number is the first staff's. */
    if (change->at.staff == MUTA_ALL_STAVES)
        change->at.staff = 1;
    reading->fixed_staff[change->at.staff] =
        change->sign == MUTA_CLEF_FIXED && !plays_pitches(reading->part);
    reading->tab_staff[change->at.staff] = change->sign == MUTA_CLEF_TAB;
    return MUTA_OK;
}

static muta_status read_transpose(muta_reading *reading, muta_node node)
{
    const muta_tree *const tree = &reading->score->tree;
    static const int64_t octave = INT64_C(12) * MUTA_SEMITONE;
    int32_t octaves = 0;
    int32_t steps;
    muta_fraction size;
    muta_transposition *const change =
        MUTA_PUSH(&reading->part->arena, &reading->part->transpositions);

    if (!change)
        return MUTA_E_MEMORY;
    if (!muta_build_number(tree, node, N_CHROMATIC, &size))
        size = MUTA_ZERO;
    size = muta_fraction_scale(size, MUTA_SEMITONE);
    const int64_t millicents = muta_fraction_is_valid(size) ? size.top / size.bottom : 0;
    /* Without `diatonic` the usual spelling of so many semitones: seven steps to twelve. */
    if (!muta_build_integer(tree, node, N_DIATONIC, &steps))
        steps = (int32_t)((millicents * 7 + (millicents < 0 ? -octave / 2 : octave / 2)) / octave);
    (void)muta_build_integer(tree, node, N_OCTAVE_CHANGE, &octaves);
    if (steps > 70 || steps < -70 || millicents > 10 * octave || millicents < -10 * octave ||
        octaves > 9 || octaves < -9) {
        muta_build_warn(reading, node, "a transposition as wide as that is left aside");
        reading->part->transpositions.count--;
        return MUTA_OK;
    }
    *change = (muta_transposition){moment(reading, node),
                                   {steps + octaves * 7, (int32_t)(millicents + octaves * octave)}};
    return MUTA_OK;
}

/* Reads `beats`, as 4 or 3+2, into the metre's groups; 0 when it is something else. */
static int64_t read_beats(muta_text text, muta_metre *metre)
{
    int64_t sum = 0;
    int64_t term = 0;

    metre->group_count = 0;
    for (size_t i = 0; i <= text.length; i++) {
        const int c = i < text.length ? text.at[i] : '+';
        if (c >= '0' && c <= '9' && term < 10000) {
            term = term * 10 + (c - '0');
        } else if (c == '+') {
            if (metre->group_count < MUTA_GROUPS && term <= UINT8_MAX)
                metre->groups[metre->group_count++] = (uint8_t)term;
            sum += term;
            term = 0;
        } else if (c != ' ') {
            return 0;
        }
    }
    return sum;
}

/* Adds up the pairs of `beats` and `beat-type`; invalid when the metre is free. */
static muta_status read_time(muta_reading *reading, muta_node node)
{
    const muta_tree *const tree = &reading->score->tree;
    muta_metre metre = {.length = MUTA_ZERO};
    int64_t beats = 0;
    size_t pairs = 0;

    for (muta_node child = muta_tree_first(tree, node); child;
         child = muta_tree_next(tree, child)) {
        const muta_name name = muta_tree_name(tree, child);
        if (name == N_BEATS)
            beats = read_beats(muta_tree_leaf(tree, child), &metre);
        if (name != N_BEAT_TYPE)
            continue;
        muta_metre type = {.length = MUTA_ZERO};
        const int64_t beat_type = read_beats(muta_tree_leaf(tree, child), &type);
        metre.length = muta_fraction_add(metre.length, muta_fraction_of(beats * 4, beat_type));
        metre.beat_type = metre.beat_type ? metre.beat_type : beat_type;
        pairs++;
    }
    const bool counted = muta_fraction_compare(metre.length, MUTA_ZERO) > 0;
    if (!counted && !muta_tree_child(tree, node, N_SENZA_MISURA))
        muta_build_warn(reading, node, "the metre is no number; bars are as long as their notes");
    if (!counted)
        metre = (muta_metre){.beat_type = 4};
    if (pairs == 1)
        muta_metre_group(&metre, beats);
    else
        metre.group_count = 0;
    muta_metre *const said = muta_arena_take(&reading->part->arena, sizeof *said);
    if (!said)
        return MUTA_E_MEMORY;
    *said = metre;
    reading->metre = said;
    return MUTA_OK;
}

static muta_status read_divisions(muta_reading *reading, muta_node node)
{
    const muta_tree *const tree = &reading->score->tree;
    muta_fraction found = {0, 0};

    if (!muta_build_number(tree, node, N_DIVISIONS, &found) ||
        muta_fraction_compare(found, MUTA_ZERO) <= 0) {
        found = (muta_fraction){0, 0};
        muta_build_warn(reading, node, "divisions are no number above 0");
    }
    reading->divisions = found;
    reading->said_divisions = true;
    muta_divisions *const change = MUTA_PUSH(&reading->part->arena, &reading->part->divisions);
    if (!change)
        return MUTA_E_MEMORY;
    *change = (muta_divisions){{(uint32_t)reading->bar, MUTA_ALL_STAVES, reading->at}, found};
    return MUTA_OK;
}

muta_status muta_build_attributes(muta_reading *reading, muta_node attributes)
{
    const muta_tree *const tree = &reading->score->tree;
    int32_t staves;

    for (muta_node child = muta_tree_first(tree, attributes); child;
         child = muta_tree_next(tree, child)) {
        switch (muta_tree_name(tree, child)) {
        case N_DIVISIONS:
            MUTA_TRY(read_divisions(reading, attributes));
            break;
        case N_KEY:
            MUTA_TRY(read_key(reading, child));
            break;
        case N_TIME:
            MUTA_TRY(read_time(reading, child));
            break;
        case N_CLEF:
            MUTA_TRY(read_clef(reading, child));
            break;
        case N_TRANSPOSE:
            MUTA_TRY(read_transpose(reading, child));
            break;
        default:
            break;
        }
    }
    if (muta_build_integer(tree, attributes, N_STAVES, &staves) && staves > 0 &&
        staves <= UINT8_MAX && (size_t)staves > reading->part->staves)
        reading->part->staves = (size_t)staves;
    return MUTA_OK;
}
