#include "src/review/robust.h"

#include <algorithm>
#include <cmath>
#include <utility>
#include <vector>

#include "dsp/statistics.h"

namespace landfall {

namespace {

// The continued fraction of DLMF 8.17.22, by the modified Lentz method (DLMF 3.10(iii)).
double betaFraction(double a, double b, double x) {
    constexpr double tiny = 1e-300;
    double c = 1.0, d = 1.0 - (a + b) * x / (a + 1.0);
    d = 1.0 / (std::abs(d) < tiny ? tiny : d);
    double fraction = d;
    const auto next = [&](double term) {
        d = 1.0 + term * d;
        c = 1.0 + term / c;
        d = 1.0 / (std::abs(d) < tiny ? tiny : d);
        if (std::abs(c) < tiny) c = tiny;
        fraction *= d * c;
        return std::abs(d * c - 1.0);
    };
    for (int m = 1; m <= 300; ++m) {
        next(m * (b - m) * x / ((a + 2.0 * m - 1.0) * (a + 2.0 * m)));
        if (next(-(a + m) * (a + b + m) * x / ((a + 2.0 * m) * (a + 2.0 * m + 1.0))) < 1e-14) break;
    }
    return fraction;
}

double incompleteBeta(double a, double b, double x) {
    if (x <= 0.0) return 0.0;
    if (x >= 1.0) return 1.0;
    const double front =
        std::exp(std::lgamma(a + b) - std::lgamma(a) - std::lgamma(b) + a * std::log(x) + b * std::log1p(-x));
    if (x < (a + 1.0) / (a + b + 2.0)) return front * betaFraction(a, b, x) / a;
    return 1.0 - front * betaFraction(b, a, 1.0 - x) / b;
}

}  // namespace

Estimate robustMean(std::span<const double> values, double usualSpread) {
    const auto n = static_cast<double>(values.size());
    if (values.empty()) return {};
    double mean = median({values.begin(), values.end()});
    double scale = usualSpread * usualSpread, weights = n;
    for (int round = 0; round < 30; ++round) {
        double sum = 0.0, squares = 0.0;
        weights = 0.0;
        for (const double value : values) {
            const double r2 = (value - mean) * (value - mean);
            const double weight = 5.0 / (4.0 + r2 / scale);
            weights += weight;
            sum += weight * value;
            squares += weight * r2;
        }
        mean = sum / weights;
        scale = (squares + 4.0 * usualSpread * usualSpread) / (n + 4.0);
    }
    // Its asymptotic variance is scale * 7 / 5 of that of n (Lange, Little and Taylor, section 3: (v + 3) / (v + 1)).
    return {mean, std::sqrt(1.4 * scale / n), static_cast<int>(values.size())};
}

double saidDoubt(double cents) { return std::max(1.0, std::ceil(cents)); }

Estimate plainMean(std::span<const double> values) {
    if (values.empty()) return {};
    const auto n = static_cast<double>(values.size());
    double sum = 0.0, squares = 0.0;
    for (const double value : values) sum += value;
    for (const double value : values) squares += (value - sum / n) * (value - sum / n);
    return {sum / n, n > 1.0 ? std::sqrt(squares / (n - 1.0) / n) : 0.0, static_cast<int>(values.size())};
}

double studentCdf(double t, double degrees) {
    const double tail = 0.5 * incompleteBeta(0.5 * degrees, 0.5, degrees / (degrees + t * t));
    return t < 0.0 ? tail : 1.0 - tail;
}

double studentLimit(double outside, double degrees) {
    double low = 0.0, high = 1000.0;
    for (int i = 0; i < 100; ++i) {
        const double middle = 0.5 * (low + high);
        (2.0 * (1.0 - studentCdf(middle, degrees)) > outside ? low : high) = middle;
    }
    return high;
}

Difference welch(std::span<const double> before, std::span<const double> after) {
    const Estimate a = plainMean(before), b = plainMean(after);
    Difference found{.value = b.value - a.value};
    if (a.count < 2 || b.count < 2) return found;
    const double va = a.se * a.se, vb = b.se * b.se;
    found.se = std::sqrt(va + vb);
    if (found.se == 0.0) return found;
    found.degrees = (va + vb) * (va + vb) / (va * va / (a.count - 1) + vb * vb / (b.count - 1));
    found.p = 2.0 * studentCdf(-std::abs(found.value) / found.se, found.degrees);
    return found;
}

}  // namespace landfall
