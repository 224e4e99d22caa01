/* grid_laws.c: bar lines go with the music where all parts are in the passage. */
#include "matrix/matrix.h"
#include <stdio.h>

static struct {
    size_t scores;
    size_t lines;
    size_t bars;
} seen;

static bool is_full(const muta_score *score, size_t bar)
{
    return muta_fraction_compare(score->bars[bar].length, score->bars[bar].metre.length) == 0;
}

/* One metre, no repeats, a short bar at most at each end: then every line can be told. */
static bool is_plain(const muta_score *score)
{
    bool plain = score->bar_count > 3 && !score->own_grids;

    for (size_t i = 0; plain && i < score->bar_count; i++)
        plain =
            !score->bars[i].opens && !score->bars[i].closes &&
            muta_fraction_compare(score->bars[i].metre.length, score->bars[0].metre.length) == 0 &&
            (is_full(score, i) ||
             ((i == 0 || i + 1 == score->bar_count) &&
              muta_fraction_compare(score->bars[i].length, score->bars[i].metre.length) < 0));
    for (size_t i = 0; plain && i < score->part_count; i++)
        for (size_t j = 0; plain && j < score->parts[i].keys.count; j++)
            plain = score->parts[i].keys.at[j].at.bar == 0;
    return plain;
}

static bool has_line(const muta_score *score, muta_fraction at)
{
    for (size_t i = 0; i < score->bar_count; i++)
        if (muta_fraction_compare(score->bars[i].start, at) == 0)
            return true;
    return false;
}

/* Where the lines of a score must be, by what a pass does to time; of every nth only. */
static void check_lines(const struct subject *subject, const muta_score *before, const char *line,
                        muta_fraction scale, bool turned, size_t every)
{
    muta_score *const after = read_xml(subject->xml, subject->length);
    const muta_bar *const last = &before->bars[before->bar_count - 1];
    const muta_fraction end = muta_fraction_add(last->start, last->length);
    size_t missing = 0;
    muta_outcome outcome;

    if (run(after, line, &outcome, NULL) == MUTA_OK && outcome.had_work) {
        /* Pairs are counted from the first down-beat. */
        for (size_t i = is_full(before, 0) ? every : 1; i < before->bar_count; i += every) {
            const muta_fraction at = turned ? muta_fraction_subtract(end, before->bars[i].start)
                                            : muta_fraction_multiply(before->bars[i].start, scale);
            missing += !has_line(after, at);
            seen.lines++;
        }
        check(subject, missing == 0, "%s: %zu bar lines did not go with the music", line, missing);
    }
    muta_score_free(after);
}

/* No inner bar is short or long that was not so. */
static void check_full(const struct subject *subject, const char *line)
{
    muta_score *const after = read_xml(subject->xml, subject->length);
    size_t odd = 0;

    if (run(after, line, NULL, NULL) == MUTA_OK) {
        for (size_t i = 1; i + 1 < after->bar_count; i++)
            odd += !is_full(after, i);
        seen.bars += after->bar_count;
        check(subject, odd == 0, "%s: %zu inner bars are short or long", line, odd);
    }
    muta_score_free(after);
}

void check_grid_laws(const struct subject *subject, const muta_score *score)
{
    static const char *const lines[] = {"remetre",
                                        "pace",
                                        "pace by=3/2",
                                        "augment by=3/2",
                                        "ground times=3",
                                        "ground from=folia times=2",
                                        "sequence where=*",
                                        "fragment where=* as=repeat times=3",
                                        "sequence",
                                        "retrograde where=* then augment",
                                        "augment then remetre"};

    if (!is_plain(score))
        return;
    seen.scores++;
    check_lines(subject, score, "augment where=*", muta_fraction_of(2, 1), false, 1);
    check_lines(subject, score, "diminish where=*", muta_fraction_of(1, 2), false, 2);
    check_lines(subject, score, "retrograde where=*", muta_fraction_of(1, 1), true, 1);
    for (size_t i = 0; i < sizeof lines / sizeof *lines; i++)
        check_full(subject, lines[i]);
}

void print_grid_laws(void)
{
    printf("laws of the grid: %zu scores, %zu bar lines, %zu bars\n", seen.scores, seen.lines,
           seen.bars);
}
