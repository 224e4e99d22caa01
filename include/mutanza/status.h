/** status.h: what every function that can fail returns. */
#ifndef MUTANZA_STATUS_H
#define MUTANZA_STATUS_H

#ifdef __cplusplus
extern "C" {
#endif

#if defined(__GNUC__)
#define MUTA_API __attribute__((visibility("default")))
#define MUTA_PRINTF(string, first) __attribute__((format(printf, string, first)))
#define MUTA_CHECK __attribute__((warn_unused_result))
#else
#define MUTA_API
#define MUTA_PRINTF(string, first)
#define MUTA_CHECK
#endif

/**
 * The outcome of a call. Results leave through the last parameters, on MUTA_OK only.
 * MUTA_E_USAGE     a bad option, pass, key, value or address syntax (exit status 64)
 * MUTA_E_DATA      bad data, or an address that the score does not have (65)
 * MUTA_E_NO_INPUT  there is no such input (66)
 * MUTA_E_FAULT     a fault of this program (70)
 * MUTA_E_CREATE    the output is the input, or cannot be created (73)
 * MUTA_E_IO        a read or write error (74)
 * MUTA_E_MEMORY    memory ran out (70)
 * MUTA_E_RANGE     a number or a pitch left the range that can be written (65)
 */
typedef enum {
    MUTA_OK,
    MUTA_E_USAGE,
    MUTA_E_DATA,
    MUTA_E_NO_INPUT,
    MUTA_E_FAULT,
    MUTA_E_CREATE,
    MUTA_E_IO,
    MUTA_E_MEMORY,
    MUTA_E_RANGE,
} muta_status;

/** Forwards a failure; use it where nothing is held. */
#define MUTA_TRY(call)                                                                             \
    do {                                                                                           \
        const muta_status muta_try_status = (call);                                                \
        if (muta_try_status != MUTA_OK)                                                            \
            return muta_try_status;                                                                \
    } while (0)

#define MUTA_LENGTH(array) (sizeof(array) / sizeof((array)[0]))

#ifdef __cplusplus
}
#endif

#endif
