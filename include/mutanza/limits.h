/** limits.h: how large a thing may be before it is refused (65). */
#ifndef MUTANZA_LIMITS_H
#define MUTANZA_LIMITS_H

#ifdef __cplusplus
extern "C" {
#endif

/** Elements within elements; real scores reach about 10. */
#define MUTA_LIMIT_DEPTH 200
/** Bytes of UTF-8 XML in one score. */
#define MUTA_LIMIT_XML_BYTES (1024LL * 1024 * 1024)
/** Bytes of a compressed score, all entries together. */
#define MUTA_LIMIT_MXL_BYTES (256LL * 1024 * 1024)
/** Entries of a compressed score. */
#define MUTA_LIMIT_MXL_ENTRIES 4096
/** Inflated bytes for each compressed one, once past MUTA_LIMIT_RATIO_FROM; real scores reach 60.
 */
#define MUTA_LIMIT_RATIO 250
#define MUTA_LIMIT_RATIO_FROM (4LL * 1024 * 1024)
/** Bytes before the root element. */
#define MUTA_LIMIT_PROLOG (1024 * 1024)
/** Quarter notes in one bar that a pass touches. */
#define MUTA_LIMIT_BAR_QUARTERS 1000
/** Accidentals in a key signature. */
#define MUTA_LIMIT_FIFTHS 7
/** Octave numbers that MusicXML can write: 0 to 9. */
#define MUTA_LIMIT_OCTAVE 9
/** By how much the divisions of a part may be multiplied. */
#define MUTA_LIMIT_DIVISIONS 1000000000
/** Bars that one pass may put in. */
#define MUTA_LIMIT_NEW_BARS 20000
/** Words, keys and passes in one line of passes. */
#define MUTA_LIMIT_CHAIN 64
/** Answers that are set one after another. */
#define MUTA_LIMIT_TAKES 100

#ifdef __cplusplus
}
#endif

#endif
