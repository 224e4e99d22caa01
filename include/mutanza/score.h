/**
 * score.h: a score as it is written. It is read whole, its notes are known with their exact times,
 * and it goes out as it came in but for what a passage changed.
 */
#ifndef MUTANZA_SCORE_H
#define MUTANZA_SCORE_H

#include "mutanza/diag.h"
#include "mutanza/fraction.h"
#include "mutanza/pitch.h"
#include "mutanza/schema.h"
#include <stddef.h>

#ifdef __cplusplus
extern "C" {
#endif

/** Owner: whoever read it. Threads: one at a time; two scores may be in two threads. */
typedef struct muta_score muta_score;

/**
 * Reads a MusicXML score, 1.0 to 4.0, partwise or timewise, plain or compressed.
 * @param path   a file, or `-` for standard input; its bytes tell its kind, not its name
 * @param score  [out] the caller's; untouched on failure
 * @param diags  gets the reason of a failure, and warnings; may be NULL
 * @return MUTA_OK, MUTA_E_NO_INPUT, MUTA_E_IO, MUTA_E_DATA or MUTA_E_MEMORY
 */
MUTA_API muta_status muta_score_read(const char *path, muta_score **score,
                                     muta_diags *diags) MUTA_CHECK;
/** The same from `length` bytes in memory, which may go once it returns. */
MUTA_API muta_status muta_score_read_bytes(const char *at, size_t length, muta_score **score,
                                           muta_diags *diags) MUTA_CHECK;
/** Ends the score and all that borrows from it. Takes NULL. */
MUTA_API void muta_score_free(muta_score *score);

/** Whether it came from a compressed file (.mxl). */
MUTA_API bool muta_score_is_compressed(const muta_score *score);
/** How many entries its compressed file holds besides the score and what belongs to the container.
 */
MUTA_API size_t muta_score_extra_count(const muta_score *score);
/** The MusicXML version that the document names; "1.0" when it names none. Borrows: score. */
MUTA_API const char *muta_score_version(const muta_score *score);
/** The title of the work, or of the movement; "" without one. Borrows: score. */
MUTA_API const char *muta_score_title(const muta_score *score);
/** How many parts, and bars, it has. */
MUTA_API size_t muta_score_part_count(const muta_score *score);
MUTA_API size_t muta_score_bar_count(const muta_score *score);
/** The printed number of a bar. @param bar_index  below muta_score_bar_count. Borrows: score. */
MUTA_API const char *muta_score_bar_number(const muta_score *score, size_t bar_index);
/** The name of a part, as one line. @param part  below muta_score_part_count. Borrows: score. */
MUTA_API const char *muta_score_part_name(const muta_score *score, size_t part);
/**
 * How many staves a part has, and how many voices are at home on one of them.
 * @param part   below muta_score_part_count
 * @param staff  from 1; 0 voices where there is no such staff
 */
MUTA_API size_t muta_score_staff_count(const muta_score *score, size_t part);
MUTA_API size_t muta_score_voice_count(const muta_score *score, size_t part, size_t staff);

/**
 * Writes the score. The output appears whole or not at all: it is written beside, synced and
 * renamed. The file that the score was read from is never written over.
 * @param path      where to; `-` for standard output
 * @param compress  as .mxl, with the other entries that the input had, or as plain XML
 * @param schema    what the output must satisfy, or NULL
 * @return MUTA_OK, MUTA_E_CREATE, MUTA_E_IO, MUTA_E_MEMORY, or MUTA_E_DATA when it is not valid
 */
MUTA_API muta_status muta_score_write(const muta_score *score, const char *path, bool compress,
                                      const muta_schema *schema, muta_diags *diags) MUTA_CHECK;
/**
 * Writes plain XML into memory.
 * @param at      [out] the bytes, terminated; the caller's, ended with free()
 * @param length  [out] without the terminator
 */
MUTA_API muta_status muta_score_write_bytes(const muta_score *score, char **at,
                                            size_t *length) MUTA_CHECK;
/**
 * Says in the score's `identification` what made it: this program, its version, the passes and the
 * seed. It stands there once, however often it is said.
 */
MUTA_API muta_status muta_score_sign(muta_score *score, const char *passes,
                                     uint64_t seed) MUTA_CHECK;

/**
 * Writes what is said of a score, whole or not at all, and never over its source.
 * @param path  `-` for standard output
 * @param text  terminated; it stays the caller's
 */
MUTA_API muta_status muta_score_write_text(const muta_score *score, const char *path, char *text,
                                           muta_diags *diags) MUTA_CHECK;

/**
 * Takes a person's own reading of the chords, which goes before what is written and heard: a line a
 * chord, `5.3 D7/F#`, bar and beat as in addresses, then a chord symbol, or - for none; each until
 * the next. Lines that begin with # say nothing.
 * @return MUTA_OK, MUTA_E_MEMORY, or MUTA_E_DATA for a line that is none, which is told by number
 */
MUTA_API muta_status muta_score_read_chords(muta_score *score, const char *text,
                                            muta_diags *diags) MUTA_CHECK;
/**
 * Says the bars [from, to) of all parts again behind the last bar, `count` times, under what is in
 * force at `from`. What was the end becomes a double bar, with a Fine if the piece jumps, and the
 * closing bar line moves to the new end.
 * @param from      below muta_score_bar_count; `to` above it, and at most that count
 * @param is_alone  it will stand alone: all that is in force is said, even what is at the end too
 * @param headings  words above the first bar of each; NULL for none
 * @return MUTA_OK, MUTA_E_MEMORY, or MUTA_E_DATA for a timewise score, or parts of unequal length
 */
MUTA_API muta_status muta_score_append_sections(muta_score *score, size_t from, size_t to,
                                                bool is_alone, const char *const *headings,
                                                size_t count, muta_diags *diags) MUTA_CHECK;
/** Takes out all bars before `first`; those from there on get the numbers of the bars from `from`.
 * Both are below muta_score_bar_count. */
MUTA_API muta_status muta_score_keep_section(muta_score *score, size_t first,
                                             size_t from) MUTA_CHECK;
/**
 * Puts a copy of a part under it, with a name and instruments of its own. Of what stands above and
 * below the notes it keeps the levels of the bars [from, to).
 * @param part  below muta_score_part_count
 * @param made  [out] its index
 */
MUTA_API muta_status muta_score_copy_part(muta_score *score, size_t part, size_t from, size_t to,
                                          size_t *made) MUTA_CHECK;

/** What a new part is played on. */
typedef struct muta_part_spec {
    const char *name;
    const char *abbreviation;
    const char *sound; /**< by MusicXML's standard sounds, as `keyboard.piano` */
    int64_t program;   /**< General MIDI, from 1 */
} muta_part_spec;

/**
 * Puts a new part of two staves, in G and F clef, behind another one, or behind the brackets that
 * this one stands in: bars of rests, with the signatures and bar lines of the other parts.
 * @param after  below muta_score_part_count
 * @param made  [out] its index
 * @return MUTA_OK, MUTA_E_MEMORY, or MUTA_E_DATA for a timewise score, bar lines of its own in some
 *         part, or no list of parts
 */
MUTA_API muta_status muta_score_add_part(muta_score *score, size_t after,
                                         const muta_part_spec *spec, size_t *made,
                                         muta_diags *diags) MUTA_CHECK;

/** This library's version, as `0.1.0`. */
MUTA_API const char *muta_version(void);

#ifdef __cplusplus
}
#endif

#endif
