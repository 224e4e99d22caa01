/* test.h: cmocka with what it wants to be included before it. */
#ifndef SUPPORT_TEST_H
#define SUPPORT_TEST_H

/* clang-format off */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>
/* clang-format on */

#endif
