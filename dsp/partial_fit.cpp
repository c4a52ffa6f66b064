#include "dsp/partial_fit.h"

#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>

#include <Eigen/Cholesky>
#include <Eigen/Core>

namespace landfall {

namespace {
constexpr int most = 2 * 12 + 3;
using Normal = Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, 0, most + 1, most + 1>;
using Column = Eigen::Matrix<double, Eigen::Dynamic, 1, 0, most + 1, 1>;
}  // namespace

// Columns: cos and sin of each partial, then the derivatives by f1, glide and B, then the samples themselves; all weighted.
struct PartialFit::Work {
    Eigen::MatrixXf columns;
    Eigen::VectorXf weight;
    Normal normal, left;
    Column right, solution, amplitudes;
    Eigen::MatrixXf product;
    Eigen::LDLT<Normal> solver;
};

PartialFit::PartialFit(const Config& given) : config(given), work(std::make_unique<Work>()) {
    work->columns.resize(config.longestWindow, most + 1);
    work->weight.resize(config.longestWindow);
    work->product.resize(most + 1, most + 1);
}

PartialFit::~PartialFit() = default;

PartialFit::Reading PartialFit::fit(std::span<const float> window, const String& start, int partials, double inharmonicitySd,
                                    int steps) noexcept {
    const auto n = static_cast<Eigen::Index>(window.size());
    const double rate = config.sampleRate;
    const double middle = 0.5 * static_cast<double>(n - 1);
    // Hann weights: a neighbouring string's partials stay out; costs a fifth in standard deviation against flat ones.
    for (Eigen::Index i = 0; i < n; ++i)
        work->weight[i] = static_cast<float>(std::sin(std::numbers::pi * (static_cast<double>(i) + 0.5) / static_cast<double>(n)));
    auto sample = Eigen::Map<const Eigen::VectorXf>(window.data(), n);
    Reading reading;
    reading.string = start;
    const int k2 = 2 * partials;
    double noise = 0.0;
    bool haveAmplitudes = false;
    for (int step = 0; step <= steps; ++step) {
        String& s = reading.string;
        const int unknowns = haveAmplitudes ? k2 + 3 : k2;
        auto columns = work->columns.block(0, 0, n, unknowns + 1);
        if (haveAmplitudes) columns.middleCols(k2, 3).setZero();
        for (int k = 1; k <= partials; ++k) {
            const double kk = k;
            const double stretch = std::sqrt((1.0 + s.inharmonicity * kk * kk) / (1.0 + s.inharmonicity));
            const double omega = 2.0 * std::numbers::pi * kk * stretch * s.f1 / rate;  // per sample at the middle
            const double curve = omega * s.glide / rate;                               // per sample squared
            // phase(t) = omega t + curve t^2 / 2 by recurrence, from the first sample on
            const double t0 = -middle;
            std::complex<double> z = std::polar(1.0, omega * t0 + 0.5 * curve * t0 * t0);
            std::complex<double> turn = std::polar(1.0, omega + curve * (t0 + 0.5));
            const std::complex<double> bend = std::polar(1.0, curve);
            float* c = columns.col(2 * k - 2).data();
            float* q = columns.col(2 * k - 1).data();
            for (Eigen::Index i = 0; i < n; ++i) {
                c[i] = static_cast<float>(z.real()) * work->weight[i];
                q[i] = static_cast<float>(z.imag()) * work->weight[i];
                z *= turn;
                turn *= bend;
            }
            if (!haveAmplitudes) continue;
            // d/dphase of (a cos + b sin) = -a sin + b cos; times d phase / d parameter
            const auto a = static_cast<float>(work->amplitudes[2 * k - 2]), b = static_cast<float>(work->amplitudes[2 * k - 1]);
            const double dB = 0.5 * (kk * kk / (1.0 + s.inharmonicity * kk * kk) - 1.0 / (1.0 + s.inharmonicity)) * omega;
            for (Eigen::Index i = 0; i < n; ++i) {
                const auto t = static_cast<float>(static_cast<double>(i) - middle);
                const float d = -a * q[i] + b * c[i];
                work->columns(i, k2) += d * static_cast<float>(omega / s.f1) * t;
                work->columns(i, k2 + 1) += d * static_cast<float>(0.5 * omega / rate) * t * t;
                work->columns(i, k2 + 2) += d * static_cast<float>(dB) * t;
            }
        }
        columns.col(unknowns) = sample.cwiseProduct(work->weight.head(n));
        auto product = work->product.topLeftCorner(unknowns + 1, unknowns + 1);
        product.setZero();
        product.selfadjointView<Eigen::Lower>().rankUpdate(columns.transpose());
        work->normal = product.cast<double>().eval();
        const double total = work->normal(unknowns, unknowns);
        work->left = work->normal.topLeftCorner(unknowns, unknowns);
        work->right = work->normal.row(unknowns).head(unknowns).transpose();
        const double ridge = 1e-9 * std::max(1e-20, work->left.diagonal().head(k2).mean());
        for (int i = 0; i < k2; ++i) work->left(i, i) += ridge;
        if (haveAmplitudes) {
            const double perSample = noise / std::max(1.0, 0.5 * static_cast<double>(n) - unknowns);
            work->left(k2, k2) += 1e-12 * work->left(k2, k2) + 1e-30;
            // The glide is known beforehand to 6 a second (a full step in 20 ms), so that it cannot run away in a short window.
            work->left(k2 + 1, k2 + 1) += perSample / 36.0 + 1e-30;
            work->left(k2 + 2, k2 + 2) += perSample / (inharmonicitySd * inharmonicitySd) + 1e-30;
            work->right[k2 + 2] += perSample / (inharmonicitySd * inharmonicitySd) * (start.inharmonicity - s.inharmonicity);
            work->right[k2 + 1] += perSample / 36.0 * (start.glide - s.glide);
        }
        work->solver.compute(work->left);
        work->solution = work->solver.solve(work->right);
        // Without the derivative columns this is the residual itself; with them it is that of the next point.
        noise = std::max(0.0, total - work->solution.dot(work->right));
        reading.residual = total > 0.0 ? noise / total : 1.0;
        work->amplitudes = work->solution.head(k2);
        if (haveAmplitudes) {
            Column unit = Column::Zero(unknowns);
            unit[k2] = 1.0;
            const double variance = work->solver.solve(unit)[k2] * noise / std::max(1.0, 0.5 * static_cast<double>(n) - unknowns);
            s.f1 += std::clamp(work->solution[k2], -0.06 * s.f1, 0.06 * s.f1);
            s.glide = std::clamp(s.glide + work->solution[k2 + 1], -20.0, 20.0);
            s.inharmonicity = std::clamp(s.inharmonicity + work->solution[k2 + 2], 0.0, 1e-3);
            reading.sdCents = 1200.0 / std::numbers::ln2 * std::sqrt(std::max(0.0, variance)) / s.f1;
        }
        haveAmplitudes = true;
    }
    if (!std::isfinite(reading.string.f1) || !std::isfinite(reading.sdCents)) return Reading{start, 1e9, 1.0};
    return reading;
}

}  // namespace landfall
