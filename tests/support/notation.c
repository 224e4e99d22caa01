/* notation.c: the cases' notation to MusicXML and back. */
#include "support/notation.h"
#include "base/text.h"
#include "musicxml/symbol.h"
#include "score/model.h"
#include "theory/chord.h"
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum {
    DIVISIONS = 40320 /* holds 128ths, ninths, fifths and sevenths */
};

static void put_pitch(FILE *to, muta_pitch pitch)
{
    (void)fprintf(to, "<pitch><step>%c</step>", "CDEFGAB"[muta_pitch_step(pitch)]);
    if (pitch.alter)
        (void)fprintf(to, "<alter>%d</alter>", pitch.alter / MUTA_SEMITONE);
    (void)fprintf(to, "<octave>%d</octave></pitch>", muta_pitch_octave(pitch));
}

/* `[G:dominant]` */
static bool put_symbol(FILE *to, char *word)
{
    char *const colon = strchr(word, ':');
    char *const end = strchr(word, ']');

    if (!colon || !end)
        return false;
    *end = '\0';
    (void)fprintf(to, "<harmony><root><root-step>%c</root-step>", word[1]);
    if (colon - word > 2)
        (void)fprintf(to, "<root-alter>%d</root-alter>", word[2] == '#' ? 1 : -1);
    (void)fprintf(to, "</root><kind>%s</kind></harmony>", colon + 1);
    return true;
}

/* What is said so far of the part that is written. */
struct part_state {
    int bar;
    int voice;
    bool tied[2];         /* by voice */
    muta_fraction filled; /* of the bar, by the voice */
};

/* Marks behind a duration: `~` tied on, `^` stem up, `_` stem down. */
struct marks {
    bool ties;
    const char *stem;
};

static struct marks take_marks(char *word)
{
    struct marks marks = {false, NULL};

    for (size_t last = strlen(word) - 1; last > 0; word[last--] = '\0') {
        if (word[last] == '~')
            marks.ties = true;
        else if (word[last] == '^' || word[last] == '_')
            marks.stem = word[last] == '^' ? "up" : "down";
        else
            break;
    }
    return marks;
}

static void put_sign(FILE *to, muta_pitch pitch)
{
    static const char *const names[] = {"flat-flat", "flat", "natural", "sharp", "double-sharp"};

    (void)fprintf(to, "<accidental>%s</accidental>", names[pitch.alter / MUTA_SEMITONE + 2]);
}

/* Thirds, fifths and sevenths of a value are of a tuplet. */
static void put_tuplet(FILE *to, muta_fraction quarters)
{
    int64_t actual = quarters.bottom;
    int64_t normal = 1;

    while (actual % 2 == 0)
        actual /= 2;
    while (normal * 2 <= actual)
        normal *= 2;
    if (actual > 1)
        (void)fprintf(to,
                      "<time-modification><actual-notes>%" PRId64 "</actual-notes><normal-notes>"
                      "%" PRId64 "</normal-notes></time-modification>",
                      actual, normal);
}

/* A note or rest; `name` is `r`, or a pitch, with `!` when its sign is written. */
static bool put_note(FILE *to, char *name, bool is_chord, muta_fraction quarters,
                     const struct marks *marks, const struct part_state *state)
{
    const bool is_tied = state->tied[state->voice - 1];
    const size_t length = strlen(name);
    const bool has_sign = name[length - 1] == '!';
    muta_pitch pitch = {0, 0};

    if (has_sign)
        name[length - 1] = '\0';
    if (strcmp(name, "r") != 0 && muta_pitch_parse(name, &pitch) != MUTA_OK)
        return false;
    (void)fprintf(to, "<note>%s%s", quarters.top == 0 ? "<grace/>" : "",
                  is_chord ? "<chord/>" : "");
    if (strcmp(name, "r") == 0)
        (void)fputs("<rest/>", to);
    else
        put_pitch(to, pitch);
    if (quarters.top > 0)
        (void)fprintf(to, "<duration>%" PRId64 "</duration>",
                      muta_fraction_scale(quarters, DIVISIONS).top);
    (void)fprintf(to, "%s%s<voice>%d</voice>", is_tied ? "<tie type=\"stop\"/>" : "",
                  marks->ties ? "<tie type=\"start\"/>" : "", state->voice);
    if (has_sign)
        put_sign(to, pitch);
    put_tuplet(to, quarters);
    if (marks->stem)
        (void)fprintf(to, "<stem>%s</stem>", marks->stem);
    (void)fputs("</note>", to);
    return true;
}

static bool put_metre(FILE *to, const char *metre)
{
    int64_t beats;
    int64_t beat_type;
    const char *at = muta_text_count(metre, &beats);

    at = at && *at == '/' ? muta_text_count(at + 1, &beat_type) : NULL;
    if (at)
        (void)fprintf(to,
                      "<time><beats>%" PRId64 "</beats><beat-type>%" PRId64 "</beat-type></time>",
                      beats, beat_type);
    return at != NULL;
}

/* `{D}` or `{3/4}`: another key, another metre. */
static bool put_change(FILE *to, char *word)
{
    muta_key key;
    bool good = true;

    word[strcspn(word, "}")] = '\0';
    (void)fputs("<attributes>", to);
    if (muta_key_parse(word + 1, &key) == MUTA_OK)
        (void)fprintf(to, "<key><fifths>%d</fifths></key>", key.fifths);
    else
        good = put_metre(to, word + 1);
    (void)fputs("</attributes>", to);
    return good;
}

/* A bar line, or the second voice of the bar from its beginning. */
static bool put_sign_of_time(FILE *to, const char *word, struct part_state *state)
{
    if (strcmp(word, "|") == 0)
        (void)fprintf(to, "</measure><measure number=\"%d\">", ++state->bar);
    else if (strcmp(word, "&") == 0)
        (void)fprintf(to, "<backup><duration>%" PRId64 "</duration></backup>",
                      muta_fraction_scale(state->filled, DIVISIONS).top);
    else
        return false;
    state->voice = word[0] == '&' ? 2 : 1;
    state->filled = MUTA_ZERO;
    return true;
}

/* One word: tones joined with +, a colon, a duration; a symbol; or a bar line. */
static bool put_event(FILE *to, char *word, struct part_state *state)
{
    muta_fraction quarters;
    bool good = true;
    bool is_chord = false;

    if (put_sign_of_time(to, word, state))
        return true;
    if (word[0] == '[')
        return put_symbol(to, word);
    if (word[0] == '{')
        return put_change(to, word);
    const struct marks marks = take_marks(word);
    char *const colon = strchr(word, ':');
    if (!colon || muta_fraction_parse(colon + 1, &quarters) != MUTA_OK)
        return false;
    *colon = '\0';
    for (char *rest = word, *name; good && (name = strtok_r(rest, "+", &rest)); is_chord = true)
        good = put_note(to, name, is_chord, quarters, &marks, state);
    state->tied[state->voice - 1] = marks.ties;
    state->filled = muta_fraction_add(state->filled, quarters);
    return good;
}

/* What stands at the beginning of a staff. */
struct head {
    muta_key key;
    int64_t beats;
    int64_t beat_type;
    const char *clef; /* as MusicXML, or nothing */
};

/* Reads `(G 3/4` or `(G 3/4 bass`. */
static bool read_head(char *text, struct head *head)
{
    static const char *const clefs[][2] = {{"treble", "<clef><sign>G</sign><line>2</line></clef>"},
                                           {"bass", "<clef><sign>F</sign><line>4</line></clef>"},
                                           {"alto", "<clef><sign>C</sign><line>3</line></clef>"},
                                           {"tenor", "<clef><sign>C</sign><line>4</line></clef>"}};
    char *rest = text + 1;
    const char *const key = strtok_r(rest, " ", &rest);
    const char *const metre = key ? strtok_r(rest, " ", &rest) : NULL;
    const char *const clef = metre ? strtok_r(rest, " ", &rest) : NULL;

    *head = (struct head){.clef = ""};
    for (size_t i = 0; clef && i < MUTA_LENGTH(clefs); i++)
        if (strcmp(clef, clefs[i][0]) == 0)
            head->clef = clefs[i][1];
    const char *at = metre ? muta_text_count(metre, &head->beats) : NULL;
    at = at && *at == '/' ? muta_text_count(at + 1, &head->beat_type) : NULL;
    return text[0] == '(' && at && muta_key_parse(key, &head->key) == MUTA_OK;
}

/* A part: its words up to the end. */
static bool put_part(FILE *to, int nth, char *words, const struct head *head)
{
    struct part_state state = {.bar = 1, .voice = 1, .filled = MUTA_ZERO};
    bool good = true;

    (void)fprintf(to,
                  "<part id=\"P%d\"><measure number=\"1\"><attributes><divisions>%d</divisions>"
                  "<key><fifths>%d</fifths></key><time><beats>%" PRId64
                  "</beats><beat-type>%" PRId64 "</beat-type></time>%s</attributes>",
                  nth, DIVISIONS, head->key.fifths, head->beats, head->beat_type, head->clef);
    for (char *word; good && (word = strtok_r(words, " ", &words));)
        good = put_event(to, word, &state);
    (void)fputs("</measure></part>", to);
    return good;
}

muta_score *notation_read(const char *line)
{
    char *text = NULL;
    size_t length;
    muta_score *score = NULL;
    struct head head;
    char *const copy = strdup(line);
    char *rest = strchr(copy, ')');
    FILE *const to = open_memstream(&text, &length);
    bool good = rest != NULL;

    if (good) {
        *rest++ = '\0';
        good = read_head(copy, &head);
    } else {
        rest = copy;
    }
    int parts = 1;

    for (const char *at = rest; *at; at++)
        parts += *at == ';';
    (void)fputs("<score-partwise><part-list>", to);
    for (int i = 1; i <= parts; i++)
        (void)fprintf(to, "<score-part id=\"P%d\"><part-name>%s</part-name></score-part>", i,
                      i == 1 ? "Tune" : "Other");
    (void)fputs("</part-list>", to);
    for (int i = 1; good && i <= parts; i++)
        good = put_part(to, i, strtok_r(rest, ";", &rest), &head);
    (void)fputs("</score-partwise>", to);
    (void)fclose(to);
    if (good && muta_score_read_bytes(text, length, &score, NULL) != MUTA_OK)
        score = NULL;
    free(text);
    free(copy);
    return score;
}

static void print_head(const muta_score *score, FILE *to)
{
    char name[MUTA_KEY_TEXT];
    const muta_metre *const metre = &score->bars[0].metre;
    const muta_fraction beats =
        muta_fraction_multiply(metre->length, muta_fraction_of(metre->beat_type, 4));

    muta_key_print((muta_key){score->parts[0].keys.at[0].key.fifths, MUTA_MAJOR}, name);
    (void)fprintf(to, "(%.*s %" PRId64 "/%" PRId64 ")", (int)strcspn(name, " "), name, beats.top,
                  metre->beat_type);
}

/* The key and the metre that begin with a bar, where they are other ones. */
static void print_changes(const muta_score *score, const muta_part *part, uint32_t bar, FILE *to)
{
    char name[MUTA_KEY_TEXT];
    const muta_metre *const metre = &score->bars[bar].metre;

    for (size_t i = 1; i < part->keys.count; i++)
        if (part->keys.at[i].at.bar == bar &&
            part->keys.at[i].key.fifths != part->keys.at[i - 1].key.fifths) {
            muta_key_print((muta_key){part->keys.at[i].key.fifths, MUTA_MAJOR}, name);
            (void)fprintf(to, " {%.*s}", (int)strcspn(name, " "), name);
        }
    if (bar > 0 && muta_fraction_compare(metre->length, score->bars[bar - 1].metre.length) != 0)
        (void)fprintf(
            to, " {%" PRId64 "/%" PRId64 "}",
            muta_fraction_multiply(metre->length, muta_fraction_of(metre->beat_type, 4)).top,
            metre->beat_type);
}

static void print_note(const muta_part *part, uint32_t index, FILE *to)
{
    const muta_note *const note = &part->notes.at[index];
    const bool more =
        index + 1 < part->notes.count && (part->notes.at[index + 1].flags & MUTA_NOTE_CHORD);
    char pitch[MUTA_PITCH_TEXT];
    char time[MUTA_FRACTION_TEXT];

    (void)fprintf(to, "%s%s", note->flags & MUTA_NOTE_CHORD ? "+" : " ",
                  note->flags & MUTA_NOTE_REST ? "r" : muta_pitch_print(note->pitch, pitch));
    if (!more)
        (void)fprintf(to, ":%s%s", muta_fraction_print(note->duration, time),
                      note->tied_to != MUTA_NO_NOTE ? "~" : "");
}

static void print_symbols(const muta_score *score, const muta_part *part, uint32_t bar,
                          muta_fraction onset, FILE *to)
{
    char pitch[MUTA_PITCH_TEXT];

    for (size_t i = 0; i < part->harmonies.count; i++) {
        const muta_harmony *const harmony = &part->harmonies.at[i];
        muta_symbol symbol;
        if (harmony->at.bar != bar || muta_fraction_compare(harmony->at.onset, onset) != 0 ||
            !muta_symbol_read(score, harmony, &symbol))
            continue;
        muta_pitch_print(muta_fifths_pitch(symbol.root, 4), pitch);
        pitch[strlen(pitch) - 1] = '\0';
        (void)fprintf(to, " [%s:%s]", pitch, symbol.kind);
    }
}

const char *notation_print_written(const muta_score *score, char *text, size_t room)
{
    FILE *const to = fmemopen(text, room, "w");

    print_head(score, to);
    for (size_t i = 0; i < score->part_count; i++) {
        const muta_part *const part = &score->parts[i];
        (void)fputs(i > 0 ? " ;" : "", to);
        for (uint32_t bar = 0; bar < part->bar_count; bar++) {
            (void)fputs(bar > 0 ? " |" : "", to);
            print_changes(score, part, bar, to);
            for (uint32_t j = part->bars[bar].first;
                 j < part->bars[bar].first + part->bars[bar].count; j++) {
                if (j > part->bars[bar].first &&
                    part->notes.at[j].voice != part->notes.at[j - 1].voice)
                    (void)fputs(" &", to);
                if (!(part->notes.at[j].flags & MUTA_NOTE_CHORD))
                    print_symbols(score, part, bar, part->notes.at[j].onset, to);
                print_note(part, j, to);
            }
        }
    }
    (void)fclose(to);
    return text;
}

const char *notation_print(const muta_score *score, char *text, size_t room)
{
    const muta_part *const part = &score->parts[0];
    char pitch[MUTA_PITCH_TEXT];
    char time[MUTA_FRACTION_TEXT];
    FILE *const to = fmemopen(text, room, "w");

    print_head(score, to);
    (void)fclose(to);
    size_t used = strlen(text);
    for (size_t i = 0; i < part->notes.count && used < room; i++) {
        const muta_note *const note = &part->notes.at[i];
        const bool rest = note->flags & MUTA_NOTE_REST;
        const bool chord = note->flags & MUTA_NOTE_CHORD;
        const bool more =
            i + 1 < part->notes.count && (part->notes.at[i + 1].flags & MUTA_NOTE_CHORD);
        muta_fraction lasts = note->duration;
        if (note->tied_from != MUTA_NO_NOTE)
            continue;
        for (uint32_t at = note->tied_to; at != MUTA_NO_NOTE; at = part->notes.at[at].tied_to)
            lasts = muta_fraction_add(lasts, part->notes.at[at].duration);
        while (rest && i + 1 < part->notes.count &&
               (part->notes.at[i + 1].flags & MUTA_NOTE_REST)) /* silence is one silence */
            lasts = muta_fraction_add(lasts, part->notes.at[++i].duration);
        used += (size_t)snprintf(text + used, room - used, "%s%s%s%s", chord ? "+" : " ",
                                 rest ? "r" : muta_pitch_print(note->pitch, pitch), more ? "" : ":",
                                 more ? "" : muta_fraction_print(lasts, time));
    }
    return text;
}

char *notation_vary(const char *xml, const char *line)
{
    muta_score *score = NULL;
    muta_chain *chain = NULL;
    char *out = NULL;
    size_t length;

    if (muta_score_read_bytes(xml, strlen(xml), &score, NULL) != MUTA_OK ||
        muta_chain_parse(line, &chain, NULL) != MUTA_OK ||
        muta_chain_run(chain, score, 1, NULL, NULL) != MUTA_OK ||
        muta_score_write_bytes(score, &out, &length) != MUTA_OK)
        out = NULL;
    muta_chain_free(chain);
    muta_score_free(score);
    return out;
}
