// Means that a few wild values do not move, how sure they are, and whether two differ. Plain functions, any thread.
#pragma once

#include <span>

namespace landfall {

struct Estimate {
    double value = 0.0;
    double se = 0.0;  // standard error; 0 where one value says nothing of it
    int count = 0;
};

// The location of a Student t with 4 degrees of freedom, by iteratively reweighted least squares: K. L. Lange, R. J. A.
// Little, J. M. G. Taylor, "Robust Statistical Modeling Using the t Distribution", JASA 84 (1989). Its scale is drawn
// towards `usualSpread` as by four values, so that two that lie close by chance are not taken for sure. Nothing given: 0
// of 0.
Estimate robustMean(std::span<const double> values, double usualSpread = 12.0);

// As it is told: whole cents, rounded up, for nothing is sure to within 0.
double saidDoubt(double cents);

// The mean and standard error of values that stand for themselves, such as the days' means.
Estimate plainMean(std::span<const double> values);

// P(T <= t) of Student's t. The incomplete beta function by its continued fraction, NIST DLMF 8.17.22.
double studentCdf(double t, double degrees);
// The t that is exceeded, without sign, with probability `outside`.
double studentLimit(double outside, double degrees);

// B. L. Welch, "The generalization of 'Student's' problem when several different population variances are involved",
// Biometrika 34 (1947).
struct Difference {
    double value = 0.0;  // after - before
    double se = 0.0;
    double degrees = 1.0;
    double p = 1.0;  // two-sided
};
Difference welch(std::span<const double> before, std::span<const double> after);

}  // namespace landfall
