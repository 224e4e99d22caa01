/* value.c: numbers, pitches and signs in the leaves of the tree. */
#include "base/decimal.h"
#include "musicxml/build.h"
#include <string.h>

/* The number that a leaf holds. */
static bool leaf_number(const muta_tree *tree, muta_node leaf, muta_fraction *number)
{
    muta_fraction found;

    if (!muta_text_number(muta_tree_leaf(tree, leaf), &found) || !muta_fraction_is_valid(found))
        return false;
    *number = found;
    return true;
}

bool muta_build_number(const muta_tree *tree, muta_node parent, muta_name child,
                       muta_fraction *number)
{
    const muta_node leaf = muta_tree_child(tree, parent, child);

    return leaf && leaf_number(tree, leaf, number);
}

bool muta_build_integer(const muta_tree *tree, muta_node parent, muta_name child, int32_t *number)
{
    muta_fraction found;

    if (!muta_build_number(tree, parent, child, &found) || found.bottom != 1 ||
        found.top > INT32_MAX || found.top < INT32_MIN)
        return false;
    *number = (int32_t)found.top;
    return true;
}

int muta_build_step(muta_text text)
{
    static const char letters[] = "CDEFGABcdefgab";
    const char *const found = text.length == 1 && text.at[0] ? strchr(letters, text.at[0]) : NULL;

    return found ? (int)(found - letters) % 7 : -1;
}

bool muta_build_alter(const muta_tree *tree, muta_node leaf, int32_t *alter)
{
    static const int64_t most = INT64_C(12) * MUTA_SEMITONE;
    muta_fraction found;

    if (!leaf_number(tree, leaf, &found))
        return false;
    found = muta_fraction_scale(found, MUTA_SEMITONE);
    if (!muta_fraction_is_valid(found) || found.top / found.bottom > most ||
        found.top / found.bottom < -most)
        return false;
    *alter = (int32_t)(found.top / found.bottom);
    return true;
}

bool muta_build_pitch(const muta_tree *tree, muta_node parent, muta_name step, muta_name alter,
                      muta_name octave, muta_pitch *pitch)
{
    int32_t number = 0;
    const muta_node leaf = muta_tree_child(tree, parent, step);
    const muta_node altered = muta_tree_child(tree, parent, alter);
    const int letter = leaf ? muta_build_step(muta_tree_leaf(tree, leaf)) : -1;

    if (letter < 0 || (octave && !muta_build_integer(tree, parent, octave, &number)) ||
        number < -9 || number > 19)
        return false;
    pitch->place = number * 7 + letter;
    pitch->alter = 0;
    return !altered || muta_build_alter(tree, altered, &pitch->alter);
}

uint8_t muta_build_staff(muta_text text, uint8_t otherwise)
{
    int number = 0;

    for (size_t i = 0; i < text.length; i++) {
        if (text.at[i] < '0' || text.at[i] > '9' || number > UINT8_MAX)
            return otherwise;
        number = number * 10 + (text.at[i] - '0');
    }
    return number < 1 || number > UINT8_MAX ? otherwise : (uint8_t)number;
}

/* Source: MusicXML 4.0, accidental-value; sharp-sharp is the older form of double-sharp. */
static const struct {
    const char *name;
    muta_sign sign;
} signs[] = {
    {"natural", MUTA_SIGN_NATURAL},
    {"sharp", MUTA_SIGN_SHARP},
    {"flat", MUTA_SIGN_FLAT},
    {"double-sharp", MUTA_SIGN_DOUBLE_SHARP},
    {"flat-flat", MUTA_SIGN_FLAT_FLAT},
    {"triple-sharp", MUTA_SIGN_TRIPLE_SHARP},
    {"triple-flat", MUTA_SIGN_TRIPLE_FLAT},
    {"quarter-sharp", MUTA_SIGN_QUARTER_SHARP},
    {"quarter-flat", MUTA_SIGN_QUARTER_FLAT},
    {"three-quarters-sharp", MUTA_SIGN_THREE_QUARTERS_SHARP},
    {"three-quarters-flat", MUTA_SIGN_THREE_QUARTERS_FLAT},
    {"sharp-sharp", MUTA_SIGN_DOUBLE_SHARP},
    {"natural-sharp", MUTA_SIGN_SHARP},
    {"natural-flat", MUTA_SIGN_FLAT},
};

muta_sign muta_build_sign(const muta_tree *tree, muta_node accidental)
{
    for (size_t i = 0; i < MUTA_LENGTH(signs); i++)
        if (muta_names_leaf_is(tree, accidental, signs[i].name))
            return signs[i].sign;
    return MUTA_SIGN_OTHER;
}

const char *muta_sign_name(muta_sign sign)
{
    for (size_t i = 0; i < MUTA_LENGTH(signs); i++)
        if (signs[i].sign == sign)
            return signs[i].name;
    return NULL;
}

void muta_build_warn(const muta_reading *reading, muta_node node, const char *text)
{
    const muta_place place = {
        .part = reading->part->name,
        .bar = reading->score->bars[reading->bar].number,
        .beat = muta_metre_beat(reading->metre, reading->at),
        .line = muta_tree_at(&reading->score->tree, node)->line,
    };

    muta_diag_add(reading->diags, MUTA_WARNING, place, "%s", text);
}
