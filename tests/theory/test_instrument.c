/* test_instrument.c: what a part is played on, by what its file says. */
#include "support/test.h"
#include "theory/instrument.h"
#include <string.h>

static void knows_instruments(void **state)
{
    static const struct {
        const char *sound;
        int64_t program;
        const char *name;
        const char *wanted; /* NULL: it is not known */
        const char *source;
    } cases[] = {
        {"strings.violin", 0, "I", "violin", "MusicXML 4.0, standard sounds"},
        {"wind.reed.clarinet.bflat", 0, "I", "clarinet", "MusicXML 4.0, standard sounds"},
        {"wind.reed.clarinet", 0, "Bass Clarinet", "bass clarinet", "of one family the name tells"},
        {"wind.reed.clarinet.bass", 0, "II", "bass clarinet", "MusicXML 4.0, standard sounds"},
        {"voice.vocals", 0, "Alto", "alto", "of one family the name tells"},
        {"strings.violin", 0, "Piano", "violin", "the sound goes before the name"},
        {"stringsx", 0, "Horn", "horn", "a sound ends with a word"},
        {NULL, 61, "I", "horn", "General MIDI 1: 61 is the French horn"},
        {NULL, 61, "Piano", "horn", "the program goes before the name"},
        {NULL, 1, "Soprano", "soprano", "the first program is what nobody chose"},
        {NULL, 1, "I", "piano", "General MIDI 1: 1 is the acoustic grand piano"},
        {NULL, 0, "Fagott", "bassoon", "German"},
        {NULL, 0, "Violoncelli", "cello", "Italian"},
        {NULL, 0, "Bratschen", "viola", "German"},
        {NULL, 0, "Flûte", "flute", "French"},
        {NULL, 0, "Vla.", "viola", "abbreviated"},
        {NULL, 0, "Kontrabass", "double bass", "German"},
        {NULL, 0, "I", NULL, "nothing is said"},
        {NULL, 129, "I", NULL, "no program of General MIDI"},
    };

    (void)state;
    for (size_t i = 0; i < MUTA_LENGTH(cases); i++) {
        const muta_instrument_clues clues = {cases[i].sound, cases[i].program, cases[i].name};
        muta_instrument found;
        const bool known = muta_instrument_find(&clues, &found);
        const bool good = known == (cases[i].wanted != NULL) &&
                          (!known || muta_text_is(found.name, cases[i].wanted));
        if (!good)
            print_message("%s: %.*s\n", cases[i].source, known ? (int)found.name.length : 0,
                          known ? found.name.at : "");
        assert_true(good);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(knows_instruments)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
