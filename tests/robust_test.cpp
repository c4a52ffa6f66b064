#include "src/review/robust.h"

#include <random>
#include <vector>

#include <doctest/doctest.h>

using namespace landfall;

TEST_CASE("Student's t has the limits of the printed tables") {
    // Two-sided limits of Student's t, as in any statistics handbook (NIST/SEMATECH e-Handbook, 1.3.6.7.2).
    struct Row {
        double degrees, outside, limit;
    };
    for (const Row& row : {Row{1, 0.05, 12.706}, Row{2, 0.10, 2.920}, Row{5, 0.01, 4.032}, Row{10, 0.05, 2.228},
                           Row{30, 0.10, 1.697}, Row{100, 0.05, 1.984}}) {
        CAPTURE(row.degrees);
        CHECK(std::abs(studentLimit(row.outside, row.degrees) - row.limit) < 0.0006);
        CHECK(std::abs(2.0 * studentCdf(-row.limit, row.degrees) - row.outside) < 0.0001);
    }
    CHECK(studentCdf(0.0, 7.0) == doctest::Approx(0.5));
}

TEST_CASE("Welch's test of two unequal groups is that of a worked example") {
    // By hand: means 20.5 and 27, variances 3.5 and 6; standard error and degrees of freedom as Welch's paper has them.
    const std::vector<double> a{18, 20, 22, 19, 21, 23}, b{24, 30, 27, 27};
    const Difference found = welch(a, b);
    CHECK(found.value == doctest::Approx(6.5));
    CHECK(found.se == doctest::Approx(std::sqrt(3.5 / 6.0 + 6.0 / 4.0)));
    const double va = 3.5 / 6.0, vb = 6.0 / 4.0;
    CHECK(found.degrees == doctest::Approx((va + vb) * (va + vb) / (va * va / 5.0 + vb * vb / 3.0)));
    CHECK(found.p > 0.005);
    CHECK(found.p < 0.02);
    CHECK(welch(std::vector<double>{1.0}, b).p == 1.0);
}

TEST_CASE("a wild value moves the robust mean little, and its standard error is what repeated samples show") {
    std::mt19937 random(5);
    std::student_t_distribution<double> noise(4.0);
    const std::vector<double> calm{-12, -8, -15, -10, -11};
    std::vector<double> wild = calm;
    wild.push_back(300.0);
    CHECK(std::abs(robustMean(wild).value - robustMean(calm).value) < 4.0);
    CHECK(robustMean({}).count == 0);
    double squares = 0.0, claimed = 0.0;
    for (int run = 0; run < 2000; ++run) {
        std::vector<double> values;
        for (int i = 0; i < 40; ++i) values.push_back(7.0 + 12.0 * noise(random));
        const Estimate found = robustMean(values);
        squares += (found.value - 7.0) * (found.value - 7.0);
        claimed += found.se;
    }
    CHECK(std::abs(std::sqrt(squares / 2000.0) / (claimed / 2000.0) - 1.0) < 0.08);
}
