/* pitch.c: a pitch is spelled; its sound is reckoned only when someone asks. */
#include "mutanza/pitch.h"
#include "base/text.h"
#include "mutanza/limits.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum {
    STEPS = 7,
    OCTAVE = 12 * MUTA_SEMITONE
};

static const char letters[] = "CDEFGAB";
static const int naturals[STEPS] = {0, 2, 4, 5, 7, 9, 11}; /* semitones above C */

static int floor_div(int a, int b)
{
    return a / b - (a % b != 0 && (a < 0) != (b < 0));
}

int muta_pitch_step(muta_pitch pitch)
{
    return pitch.place - floor_div(pitch.place, STEPS) * STEPS;
}

int muta_pitch_octave(muta_pitch pitch)
{
    return floor_div(pitch.place, STEPS);
}

static int32_t natural_sound(int32_t place)
{
    const int octave = floor_div(place, STEPS);

    return octave * OCTAVE + naturals[place - octave * STEPS] * MUTA_SEMITONE;
}

int32_t muta_pitch_sound(muta_pitch pitch)
{
    return natural_sound(pitch.place) + pitch.alter;
}

int muta_pitch_semitones(muta_pitch pitch)
{
    return muta_pitch_sound(pitch) / MUTA_SEMITONE;
}

int muta_pitch_sharps(muta_pitch pitch)
{
    const int half = MUTA_SEMITONE / 2 - 1; /* an exact half goes toward natural */

    return (pitch.alter + (pitch.alter < 0 ? -half : half)) / MUTA_SEMITONE;
}

muta_pitch muta_pitch_add(muta_pitch pitch, muta_interval by)
{
    const int32_t place = pitch.place + by.steps;

    return (muta_pitch){place, muta_pitch_sound(pitch) + by.size - natural_sound(place)};
}

muta_interval muta_pitch_between(muta_pitch from, muta_pitch to)
{
    return (muta_interval){to.place - from.place, muta_pitch_sound(to) - muta_pitch_sound(from)};
}

muta_pitch muta_pitch_respelled(muta_pitch pitch, int direction)
{
    return muta_pitch_add(pitch, (muta_interval){direction, 0});
}

bool muta_pitch_is_equal(muta_pitch a, muta_pitch b)
{
    return a.place == b.place && a.alter == b.alter;
}

const char *muta_pitch_print(muta_pitch pitch, char *text)
{
    const int sharps = muta_pitch_sharps(pitch);
    const int signs = sharps < 0 ? -sharps : sharps;
    char marks[8] = "";

    for (int i = 0; i < signs && i < (int)sizeof marks - 1; i++)
        marks[i] = sharps < 0 ? 'b' : '#';
    (void)snprintf(text, MUTA_PITCH_TEXT, "%c%s%d", letters[muta_pitch_step(pitch)], marks,
                   muta_pitch_octave(pitch));
    return text;
}

/* Reads a letter and its sharps or flats; returns what stands behind, NULL when no letter does. */
static const char *parse_name(const char *text, int *step, int *sharps)
{
    const char *const found =
        *text ? strchr(letters, *text >= 'a' ? *text - 'a' + 'A' : *text) : NULL;

    if (!found)
        return NULL;
    *step = (int)(found - letters);
    *sharps = 0;
    for (text++; *text == '#' || *text == 'b' || *text == 'x'; text++)
        *sharps += *text == '#' ? 1 : *text == 'x' ? 2 : -1;
    return *sharps < -3 || *sharps > 3 ? NULL : text;
}

muta_status muta_pitch_parse(const char *text, muta_pitch *pitch)
{
    int step;
    int sharps;
    int64_t octave;
    const char *at = parse_name(text, &step, &sharps);

    at = at ? muta_text_count(at, &octave) : NULL;
    if (!at || *at || octave > MUTA_LIMIT_OCTAVE)
        return MUTA_E_RANGE;
    *pitch = (muta_pitch){(int32_t)octave * STEPS + step, sharps * MUTA_SEMITONE};
    return MUTA_OK;
}

/* Primes, fourths and fifths are perfect; the others are major or minor. */
static bool is_perfect(int32_t steps)
{
    const int32_t within = steps % STEPS;

    return within == 0 || within == 3 || within == 4;
}

/* The semitones that an interval of this quality has beyond the perfect or major one. */
static bool parse_quality(const char *text, size_t length, bool perfect, int *beyond)
{
    if (length == 0 || length > 4 || strspn(text, &(const char[]){text[0], '\0'}[0]) < length)
        return false;
    switch (text[0]) {
    case 'P':
        *beyond = 0;
        return length == 1 && perfect;
    case 'M':
        *beyond = 0;
        return length == 1 && !perfect;
    case 'm':
        *beyond = -1;
        return length == 1 && !perfect;
    case 'A':
        *beyond = (int)length;
        return true;
    case 'd':
        *beyond = -(int)length - !perfect;
        return true;
    default:
        return false;
    }
}

muta_interval muta_interval_negate(muta_interval interval)
{
    return (muta_interval){-interval.steps, -interval.size};
}

muta_status muta_interval_parse(const char *text, muta_interval *interval)
{
    const bool down = *text == '-';
    const char *const quality = text + (*text == '-' || *text == '+');
    const size_t length = strcspn(quality, "0123456789");
    int64_t number = 0;
    int beyond;
    const char *const end = muta_text_count(quality + length, &number);

    if (!end || *end || number < 1 || number > 71)
        return MUTA_E_RANGE;
    const int32_t steps = (int32_t)number - 1;
    if (!parse_quality(quality, length, is_perfect(steps), &beyond))
        return MUTA_E_RANGE;
    const muta_interval found = {steps, natural_sound(steps) + beyond * MUTA_SEMITONE};
    *interval = down ? muta_interval_negate(found) : found;
    return MUTA_OK;
}

const char *muta_interval_print(muta_interval interval, char *text)
{
    const bool down = interval.steps < 0 || (interval.steps == 0 && interval.size < 0);
    const muta_interval up = down ? muta_interval_negate(interval) : interval;
    const int32_t rest = up.size - natural_sound(up.steps);
    const bool perfect = is_perfect(up.steps);
    int beyond = rest / MUTA_SEMITONE;
    char quality[8] = "";

    if (beyond * MUTA_SEMITONE != rest || beyond > 4 || beyond < -5)
        return memcpy(text, "?", 2);
    if (beyond == 0)
        quality[0] = perfect ? 'P' : 'M';
    else if (beyond == -1 && !perfect)
        quality[0] = 'm';
    else if (beyond > 0)
        memset(quality, 'A', (size_t)beyond);
    else
        memset(quality, 'd', (size_t)(-beyond - !perfect));
    (void)snprintf(text, MUTA_PITCH_TEXT, "%s%s%d", down ? "-" : "", quality, up.steps + 1);
    return text;
}

int32_t muta_interval_fifths(muta_interval interval)
{
    return interval.size / MUTA_SEMITONE * 7 - interval.steps * 12;
}

/* How many fifths above C each step's natural lies, F being the lowest. */
static const int circle[STEPS] = {0, 2, 4, -1, 1, 3, 5};

int muta_key_sharps(int32_t fifths, int step)
{
    return floor_div(fifths + 5 - circle[step], STEPS);
}

struct mode_row {
    const char *name;
    int fifths; /* of the signature, with C as tonic */
};

/* Source: common practice; C Dorian has two flats, C Lydian one sharp. */
static const struct mode_row modes[] = {
    [MUTA_MAJOR] = {"major", 0},
    [MUTA_MINOR] = {"minor", -3},
    [MUTA_IONIAN] = {"ionian", 0},
    [MUTA_DORIAN] = {"dorian", -2},
    [MUTA_PHRYGIAN] = {"phrygian", -4},
    [MUTA_LYDIAN] = {"lydian", 1},
    [MUTA_MIXOLYDIAN] = {"mixolydian", -1},
    [MUTA_AEOLIAN] = {"aeolian", -3},
    [MUTA_LOCRIAN] = {"locrian", -5},
};

const char *muta_mode_name(muta_mode mode)
{
    return modes[mode].name;
}

bool muta_mode_parse(const char *text, muta_mode *mode)
{
    for (size_t i = 0; i < MUTA_LENGTH(modes); i++)
        if (strcmp(text, modes[i].name) == 0) {
            *mode = (muta_mode)i;
            return true;
        }
    return false;
}

muta_pitch muta_key_tonic(muta_key key)
{
    const int fifths = key.fifths - modes[key.mode].fifths;
    const int step = (fifths * 4 % STEPS + STEPS) % STEPS; /* a fifth is four steps */

    return (muta_pitch){4 * STEPS + step, floor_div(fifths - circle[step], STEPS) * MUTA_SEMITONE};
}

muta_status muta_key_parse(const char *text, muta_key *key)
{
    int step;
    int sharps;
    muta_mode mode = *text >= 'a' ? MUTA_MINOR : MUTA_MAJOR;
    const char *const end = parse_name(text, &step, &sharps);

    if (!end || (*end && (*end != ':' || !muta_mode_parse(end + 1, &mode))))
        return MUTA_E_RANGE;
    const int fifths = circle[step] + sharps * STEPS + modes[mode].fifths;
    if (fifths < -MUTA_LIMIT_FIFTHS || fifths > MUTA_LIMIT_FIFTHS)
        return MUTA_E_RANGE;
    *key = (muta_key){fifths, mode};
    return MUTA_OK;
}

const char *muta_key_print(muta_key key, char *text)
{
    char name[MUTA_PITCH_TEXT];

    muta_pitch_print(muta_key_tonic(key), name);
    name[strlen(name) - 1] = '\0'; /* its octave */
    (void)snprintf(text, MUTA_KEY_TEXT, "%s %s", name, modes[key.mode].name);
    return text;
}

muta_interval muta_key_between(muta_key from, muta_key to)
{
    const muta_pitch start = muta_key_tonic(from);
    muta_pitch end = muta_key_tonic(to);

    if (end.place < start.place)
        end.place += STEPS;
    const muta_interval up = muta_pitch_between(start, end);
    const muta_interval down = {up.steps - STEPS, up.size - OCTAVE};
    const int32_t up_far = up.size < 0 ? -up.size : up.size;
    const int32_t down_far = down.size < 0 ? -down.size : down.size;
    return up_far <= down_far ? up : down;
}

int32_t muta_pitch_distance(muta_pitch pitch, int32_t fifths)
{
    static const int32_t on_line[] = {0, 2, 4, -1, 1, 3, 5}; /* of fifths, from C */
    const int32_t away =
        on_line[muta_pitch_step(pitch)] + 7 * muta_pitch_sharps(pitch) - (fifths + 2);

    return away < 0 ? -away : away;
}

muta_pitch muta_pitch_of_sound(int32_t sound, int32_t fifths)
{
    static const int32_t semitones[] = {0, 2, 4, 5, 7, 9, 11};
    muta_pitch best = {0, 0};
    int32_t nearest = INT32_MAX;

    for (int32_t octave = -1; octave <= 1; octave++)
        for (int32_t step = 0; step < 7; step++) {
            const int32_t base = sound / (12 * MUTA_SEMITONE) + octave;
            const int32_t natural = (base * 12 + semitones[step]) * MUTA_SEMITONE;
            const int32_t alter = sound - natural;
            if (alter > 5 * MUTA_SEMITONE / 2 || alter < -5 * MUTA_SEMITONE / 2)
                continue;
            const muta_pitch pitch = {base * 7 + step, alter};
            const int32_t distance = muta_pitch_distance(pitch, fifths);
            if (distance < nearest) {
                nearest = distance;
                best = pitch;
            }
        }
    return best;
}

bool muta_pitch_is_augmented(muta_pitch from, muta_pitch to)
{
    static const int8_t largest[] = {1, 2, 4, 5, 7, 9, 11}; /* major or perfect, by steps */
    const int32_t steps = abs(to.place - from.place);

    return steps > 0 && steps < 7 &&
           abs(muta_pitch_semitones(to) - muta_pitch_semitones(from)) > largest[steps];
}
