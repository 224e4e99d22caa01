/* test_fraction.c: exact times, and what happens when they overflow. */
#include "mutanza/fraction.h"
#include "support/test.h"

static const char *sum(const char *a, const char *b, char *text)
{
    muta_fraction one;
    muta_fraction two;

    assert_int_equal(muta_fraction_parse(a, &one), MUTA_OK);
    assert_int_equal(muta_fraction_parse(b, &two), MUTA_OK);
    return muta_fraction_print(muta_fraction_add(one, two), text);
}

static void adds(void **state)
{
    static const struct {
        const char *a, *b, *sum; /* source: arithmetic */
    } cases[] = {
        {"1/3", "1/6", "1/2"}, {"1/2", "-1/2", "0"},   {"3/4", "1/4", "1"},
        {"2+1/2", "0", "5/2"}, {"0.25", "1/4", "1/2"}, {"-1/3", "-1/6", "-1/2"},
    };
    char text[MUTA_FRACTION_TEXT];

    (void)state;
    for (size_t i = 0; i < MUTA_LENGTH(cases); i++)
        assert_string_equal(sum(cases[i].a, cases[i].b, text), cases[i].sum);
}

static void carries_overflow_along(void **state)
{
    const muta_fraction huge = muta_fraction_of(INT64_MAX, 2);
    const muta_fraction other = muta_fraction_of(INT64_MAX, 3);
    const muta_fraction over = muta_fraction_add(huge, other);

    (void)state;
    assert_false(muta_fraction_is_valid(over));
    assert_false(muta_fraction_is_valid(muta_fraction_subtract(over, over)));
    assert_false(muta_fraction_is_valid((muta_fraction){0}));
    assert_false(muta_fraction_is_valid(muta_fraction_divide(MUTA_ZERO, MUTA_ZERO)));
    assert_false(muta_fraction_is_valid(muta_fraction_of(INT64_MIN, 1)));
}

static void compares_without_overflow(void **state)
{
    const muta_fraction a = muta_fraction_of(INT64_MAX, INT64_MAX - 1);
    const muta_fraction b = muta_fraction_of(INT64_MAX - 1, INT64_MAX - 2);

    (void)state;
    assert_true(muta_fraction_compare(a, b) < 0); /* 1 + 1/(n-1) is less than 1 + 1/(n-2) */
    assert_true(muta_fraction_compare(b, a) > 0);
    assert_int_equal(muta_fraction_compare(a, a), 0);
}

static void refuses_what_is_no_number(void **state)
{
    static const char *const cases[] = {
        "", "x", "1/0", "1/", "/2", "1e3", "1,5", "1/2+", "99999999999999999999"};
    muta_fraction value = muta_fraction_of(7, 1);

    (void)state;
    for (size_t i = 0; i < MUTA_LENGTH(cases); i++)
        assert_int_equal(muta_fraction_parse(cases[i], &value), MUTA_E_RANGE);
    assert_int_equal(value.top, 7);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(adds),
        cmocka_unit_test(carries_overflow_along),
        cmocka_unit_test(compares_without_overflow),
        cmocka_unit_test(refuses_what_is_no_number),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
