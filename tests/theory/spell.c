/* spell.c: prints each interval from each spelling, for another library to compare. */
#include "mutanza/pitch.h"
#include <stdio.h>

int main(void)
{
    static const char *const intervals[] = {
        "P1", "A1", "d2", "m2", "M2", "A2", "d3", "m3", "M3", "A3", "d4", "P4", "A4", "d5",
        "P5", "A5", "d6", "m6", "M6", "A6", "d7", "m7", "M7", "A7", "d8", "P8", "m9", "M10",
    };
    static const char *const signs[] = {"bb", "b", "", "#", "##"};

    for (const char *letter = "CDEFGAB"; *letter; letter++)
        for (size_t sign = 0; sign < MUTA_LENGTH(signs); sign++)
            for (size_t i = 0; i < MUTA_LENGTH(intervals) * 2; i++) {
                char name[MUTA_PITCH_TEXT];
                char interval[16];
                char to[MUTA_PITCH_TEXT];
                muta_pitch pitch;
                muta_interval by;
                (void)snprintf(name, sizeof name, "%c%s4", *letter, signs[sign]);
                (void)snprintf(interval, sizeof interval, "%s%s", i % 2 ? "-" : "",
                               intervals[i / 2]);
                if (muta_pitch_parse(name, &pitch) != MUTA_OK ||
                    muta_interval_parse(interval, &by) != MUTA_OK)
                    return 1;
                printf("%s %s %s\n", name, interval,
                       muta_pitch_print(muta_pitch_add(pitch, by), to));
            }
    return 0;
}
