/* matrix.h: what the files of the matrix share. */
#ifndef MATRIX_MATRIX_H
#define MATRIX_MATRIX_H

#include "musicxml/build.h"
#include "mutanza/mutanza.h"
#include "score/texture.h"

enum {
    SCHEMAS = 2,
    PASSAGES = 20
};

/* One score while it is looked at. */
struct subject {
    const char *path;
    char *xml;
    size_t length;
    bool valid[SCHEMAS];
};

/* Counts a check, and says what failed. */
void check(const struct subject *subject, bool good, const char *format, ...) MUTA_PRINTF(3, 4);
muta_score *read_xml(const char *xml, size_t length);
/* The passage of an address; NULL when it is refused. */
muta_passage *lift(const muta_score *score, const char *address);
/* An address with a random part, and sometimes staff, voice and beats. */
void random_address(const muta_score *score, uint64_t *seed, char *address, size_t room);
/* What a line of passes makes of a passage; NULL when it is refused. */
muta_passage *vary(const muta_passage *in, const char *line);
/* Runs a line of passes on a score. */
muta_status run(muta_score *score, const char *line, muta_outcome *outcome, muta_diags *diags);

/* The laws of the passes, in memory, over every voice and seeded passages. */
void check_pass_laws(const struct subject *subject, const muta_score *score);
/* Passes that leave everything where it was give back the same file. */
void check_null_splices(const struct subject *subject, const muta_score *score);
/* What stands behind a passage that grew and ends inside a bar keeps its beats. */
void check_cuts(const struct subject *subject, const muta_score *score);
/* Writes every bar anew and reads it again: the same passage. */
void check_forced_notation(const struct subject *subject);
/* Nothing half open, every bar filled, as far as it was so before. */
void check_closed(const struct subject *subject, const muta_score *before, const muta_score *after,
                  const char *line);
/* What the passes of melody, mode and metre keep. */
void check_melody_laws(const struct subject *subject, const muta_score *score);
void print_melody_laws(void);
/* Bar lines go with the music. */
void check_grid_laws(const struct subject *subject, const muta_score *score);
void print_grid_laws(void);
/* What the passes of harmony keep. */
void check_harmony_laws(const struct subject *subject, const muta_score *score);
void print_harmony_laws(void);
/* Prints what was seen by these. */
void print_laws(void);

/* Whether a tone that went there and back within the key is as it was; an altered one may have
 * become the scale's, where its sign on the way would have been one that nobody expects. */
bool comes_back(int32_t fifths, muta_pitch was, muta_pitch is);

#endif
