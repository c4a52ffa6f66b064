#include "src/review/bias_map.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <random>
#include <set>

#include <Eigen/Dense>

#include "dsp/statistics.h"
#include "src/music/bending_model.h"

namespace landfall {

namespace {

// y = f(cell) + day + cold·e^(−j/5) + Student t₄(0, s²), j = try of the day. f is a Gaussian process over the cells: some
// of its variance is what places share, the rest each one's own. How large it is for this student, and how much of it is
// shared, is not settled but averaged over (Possible), each as likely as the tries make it (C. E. Rasmussen, C. K. I.
// Williams, Gaussian Processes for Machine Learning, 2006, 5.2). The constants were chosen on simulated students and are
// to be fitted again on real logs; doc/measured.md has what it does on others.
struct Model {
    // Of what is shared: everywhere, in one kind of move, near on the neck, both, by how stiff the string is there.
    double everywhere = 0.14, sameKind = 0.22, near = 0.32, nearSameKind = 0.18, stiff = 0.14;
    double strings = 1.5, frets = 4.5;  // how far neighbours reach
    double size = 70.0;                 // cents², usual variance of faults
    double sizeDoubt = 0.8;             // sd of its logarithm before any try
    double ownDoubt = 2.0;              // sd of the logit of the share that is each place's own; 0 is half of it
    double day = 9.0, cold = 64.0;      // cents², of a day's offset and of a first try
    double coldTries = 5.0;
    double spreadFirst = 100.0, spreadWeight = 8.0;  // s² is drawn to spreadFirst as by so many tries
    // By which the variance of a cell's weighted mean is more than s²/Σw, for its weights come from the same tries: the
    // expected information of t₄ is 5/7 (K. L. Lange, R. J. A. Little, J. M. G. Taylor, JASA 84, 1989).
    double ofWeights = 7.0 / 5.0 - 1.0;
};
constexpr Model model;
constexpr double ninety = 1.6449;  // of a normal distribution
constexpr int rounds = 6;
constexpr int sizesTried = 5, sharesTried = 4;  // looked at
constexpr double sdLookedAt = 1.8;              // so many sd to either side
constexpr double leastWeight = 0.003;           // less is as good as none
constexpr double hopeless = 25.0;               // so far below the likeliest, as a logarithm, it is not looked at again

struct Row {
    double y = 0.0, coldness = 0.0;
    int cell = 0, day = 0;
    double weight = 1.0;
};

// √force of the bends, to mean 0 and variance 1; 0 where the model has no answer.
Eigen::VectorXd stiffnessOf(const std::vector<MapCell>& cells) {
    Eigen::VectorXd z = Eigen::VectorXd::Zero(static_cast<Eigen::Index>(cells.size()));
    double sum = 0.0, squares = 0.0, count = 0.0;
    for (const MapCell& cell : cells) {
        if (cell.force <= 0.0) continue;
        sum += std::sqrt(cell.force);
        squares += cell.force;
        ++count;
    }
    const double mean = count > 0.0 ? sum / count : 0.0;
    const double variance = count > 0.0 ? squares / count - mean * mean : 0.0;
    if (variance < 1e-6) return z;
    for (std::size_t i = 0; i < cells.size(); ++i)
        if (cells[i].force > 0.0)
            z[static_cast<Eigen::Index>(i)] = (std::sqrt(cells[i].force) - mean) / std::sqrt(variance);
    return z;
}

// What the places share, of variance 1 in the mean.
Eigen::MatrixXd covarianceOf(const std::vector<MapCell>& cells) {
    const Eigen::VectorXd z = stiffnessOf(cells);
    const auto n = static_cast<Eigen::Index>(cells.size());
    Eigen::MatrixXd k(n, n);
    for (Eigen::Index i = 0; i < n; ++i)
        for (Eigen::Index j = 0; j <= i; ++j) {
            const MapCell &a = cells[static_cast<std::size_t>(i)], &b = cells[static_cast<std::size_t>(j)];
            const double strings = (a.place.string - b.place.string) / model.strings;
            const double frets = (a.place.fret - b.place.fret) / model.frets;
            const double near = std::exp(-0.5 * (strings * strings + frets * frets));
            const bool same = a.kind == b.kind;
            k(i, j) = k(j, i) = model.everywhere + (same ? model.sameKind + model.nearSameKind * near : 0.0)
                                + model.near * near + model.stiff * z[i] * z[j];
        }
    return k;
}

// What a student's faults may be like.
struct Possible {
    double size = 0.0, own = 0.0;  // variance; share of it that is each place's own
    double before = 0.0;           // logarithm of how likely before any try
    double weight = 0.0;           // how likely, all together 1
    Eigen::LLT<Eigen::MatrixXd> seen{};

    Eigen::MatrixXd covariance(const Eigen::MatrixXd& shared) const {
        Eigen::MatrixXd k = size * (1.0 - own) * shared;
        k.diagonal().array() += size * own;
        return k;
    }
};

// From logarithms of how likely they are, up to what is alike for all.
void normalise(std::vector<Possible>& all) {
    double most = -std::numeric_limits<double>::infinity(), sum = 0.0;
    for (const Possible& each : all) most = std::max(most, each.weight);
    std::erase_if(all, [&](const Possible& each) { return each.weight < most - hopeless; });
    for (Possible& each : all) {
        each.weight = std::exp(each.weight - most);
        if (each.weight < leastWeight) each.weight = 0.0;
        sum += each.weight;
    }
    for (Possible& each : all) each.weight /= sum;
}

std::vector<Possible> allPossible() {
    std::vector<Possible> all;
    const auto along = [](int i, int of) { return sdLookedAt * (2.0 * i / (of - 1.0) - 1.0); };
    for (int i = 0; i < sizesTried; ++i)
        for (int j = 0; j < sharesTried; ++j) {
            const double size = along(i, sizesTried), share = along(j, sharesTried);
            all.push_back({model.size * std::exp(model.sizeDoubt * size),
                           1.0 / (1.0 + std::exp(-model.ownDoubt * share)), -0.5 * (size * size + share * share)});
            all.back().weight = all.back().before;
        }
    normalise(all);
    return all;
}

// Means and variances of several normal distributions as one.
struct Mixed {
    Eigen::VectorXd mean, squares;

    explicit Mixed(Eigen::Index cells) : mean(Eigen::VectorXd::Zero(cells)), squares(mean) {}
    void add(double weight, const Eigen::VectorXd& itsMean, const Eigen::VectorXd& itsVariance) {
        mean += weight * itsMean;
        squares += weight * (itsVariance + itsMean.cwiseAbs2());
    }
    Eigen::VectorXd variance() const { return (squares - mean.cwiseAbs2()).cwiseMax(0.0); }
};

class Fit {
public:
    Fit(std::vector<Row>& given, Eigen::MatrixXd sharedByPlayed, int dayCount)
        : rows(given), shared(std::move(sharedByPlayed)), mean(Eigen::VectorXd::Zero(shared.rows())),
          variance(Eigen::VectorXd::Constant(shared.rows(), model.size)), days(static_cast<std::size_t>(dayCount), 0.0),
          dayVariances(days) {
        for (int round = 0; round < rounds && !rows.empty(); ++round) {
            if (round > 0) weigh();
            fitCells();
            fitDays();
            fitCold();
        }
    }

    // Of all cells, the played ones first, which share `sharedByAll` before any try. `asTold`: as sure as it is, not as
    // the rounds take it to be.
    void spreadTo(const Eigen::MatrixXd& sharedByAll, bool asTold = true) {
        Mixed mixed(sharedByAll.rows());
        for (const Possible& each : possible) {
            if (each.weight == 0.0) continue;
            Posterior after = posterior(each, sharedByAll);
            if (asTold) addOfWeights(each, after);
            mixed.add(each.weight, after.mean, after.variance());
        }
        mean = mixed.mean;
        variance = mixed.variance();
    }
    double bias(std::size_t cell) const { return mean[static_cast<Eigen::Index>(cell)]; }
    double sd(std::size_t cell) const { return std::sqrt(variance[static_cast<Eigen::Index>(cell)]); }
    // One of the possible, as often as it is likely, and a map of those that it leaves.
    std::vector<double> draw(unsigned seed, const Eigen::MatrixXd& sharedByAll) const {
        std::mt19937 random(seed);
        double left = std::uniform_real_distribution<double>()(random);
        const Possible* one = &possible.front();
        for (const Possible& each : possible)
            if (each.weight > 0.0 && left >= 0.0) {
                one = &each;
                left -= each.weight;
            }
        Posterior after = posterior(*one, sharedByAll);
        addOfWeights(*one, after);
        std::normal_distribution<double> normal;
        Eigen::VectorXd independent(after.mean.size());
        for (double& each : independent) each = normal(random);
        // A little on the diagonal: rounding may leave a covariance that is none.
        Eigen::MatrixXd safe = after.before - after.half.transpose() * after.half;
        safe.diagonal().array() += after.added.array() + 1e-6;
        const Eigen::VectorXd drawn = after.mean + Eigen::LLT<Eigen::MatrixXd>(safe).matrixL() * independent;
        return {drawn.begin(), drawn.end()};
    }
    double coldness() const { return cold; }
    // Of a day's offset, as far as it stays unknown.
    double dayVariance(int day) const { return dayVariances[static_cast<std::size_t>(day)]; }

private:
    // f after the tries: its covariance is before - halfᵀ·half, and what the weights add to the variances.
    struct Posterior {
        Eigen::VectorXd mean, added;
        Eigen::MatrixXd before, half;
        Eigen::VectorXd variance() const {
            return added + (before.diagonal() - half.colwise().squaredNorm().transpose()).cwiseMax(0.0);
        }
    };
    Posterior posterior(const Possible& one, const Eigen::MatrixXd& sharedByAll) const {
        Posterior after;
        after.before = one.covariance(sharedByAll);
        after.mean = Eigen::VectorXd::Zero(after.before.rows());
        after.added = after.mean;
        after.half.resize(0, after.before.rows());
        if (rows.empty()) return after;
        const auto across = after.before.leftCols(shared.rows());
        after.mean = across * one.seen.solve(seenMeans);
        after.half = one.seen.matrixL().solve(across.transpose());
        return after;
    }

    void addOfWeights(const Possible& one, Posterior& after) const {
        if (rows.empty()) return;
        const Eigen::MatrixXd of = one.seen.matrixU().solve(after.half);  // of each cell's mean in each estimate
        after.added = model.ofWeights * of.cwiseAbs2().transpose() * seenVariances;
    }

    double left(const Row& row) const { return row.y - days[static_cast<std::size_t>(row.day)] - cold * row.coldness; }
    double residual(const Row& row) const { return left(row) - mean[row.cell]; }

    void weigh() {
        double sum = 0.0;
        for (Row& row : rows) {
            const double r2 = residual(row) * residual(row) + variance[row.cell];
            row.weight = 5.0 / (4.0 + r2 / spread);
            sum += row.weight * r2;
        }
        spread =
            (sum + model.spreadWeight * model.spreadFirst) / (static_cast<double>(rows.size()) + model.spreadWeight);
    }

    // Mean and variance of f given each cell's weighted mean, whatever the faults may be like.
    void fitCells() {
        const Eigen::Index n = mean.size();
        Eigen::VectorXd weights = Eigen::VectorXd::Zero(n), sums = Eigen::VectorXd::Zero(n);
        for (const Row& row : rows) {
            weights[row.cell] += row.weight;
            sums[row.cell] += row.weight * left(row);
        }
        seenMeans = sums.cwiseQuotient(weights);
        seenVariances = spread * weights.cwiseInverse();
        judge();
        spreadTo(shared, false);
    }

    // How likely each of the possible is, by the cells' means.
    void judge() {
        for (Possible& each : possible) {
            Eigen::MatrixXd k = each.covariance(shared);
            k.diagonal() += seenVariances;
            each.seen.compute(k);
            const double squares = each.seen.matrixL().solve(seenMeans).squaredNorm();
            each.weight = each.before - 0.5 * squares - each.seen.matrixLLT().diagonal().array().log().sum();
        }
        normalise(possible);
    }

    void fitDays() {
        std::vector<double> sums(days.size(), 0.0), weights(days.size(), 0.0);
        for (const Row& row : rows) {
            const auto day = static_cast<std::size_t>(row.day);
            sums[day] += row.weight * (residual(row) + days[day]);
            weights[day] += row.weight;
        }
        for (std::size_t day = 0; day < days.size(); ++day) {
            days[day] = sums[day] / (weights[day] + spread / model.day);
            dayVariances[day] = spread / (weights[day] + spread / model.day);
        }
    }

    void fitCold() {
        double sum = 0.0, weights = 0.0;
        for (const Row& row : rows) {
            sum += row.weight * row.coldness * (residual(row) + cold * row.coldness);
            weights += row.weight * row.coldness * row.coldness;
        }
        cold = sum / (weights + spread / model.cold);
    }

    std::vector<Row>& rows;
    Eigen::MatrixXd shared;
    std::vector<Possible> possible = allPossible();
    Eigen::VectorXd mean, variance, seenMeans, seenVariances;  // f after the tries; the cells' own means
    std::vector<double> days, dayVariances;
    double cold = 0.0, spread = model.spreadFirst;
};

MapCell emptyCell(const MapPlace& at, const Guitar& guitar) {
    MapCell cell;
    cell.kind = at.kind;
    cell.place = at.place;
    if (const auto effort = bendEffort(guitar, at.place, Cents(50.0 * at.kind.halfSteps));
        effort && at.kind.halfSteps > 0)
        cell.force = effort->forceNewton;
    return cell;
}

}  // namespace

bool isOnMap(const ReviewedTry& one) { return one.counted && one.error && one.place && !one.guided; }

BiasMap biasMapOf(std::span<const ReviewedTry> tries, const Guitar& guitar, const MapWish& wish) {
    std::vector<const ReviewedTry*> measured;
    for (const ReviewedTry& one : tries)
        if (isOnMap(one)) measured.push_back(&one);
    if (measured.size() > wish.most)
        measured.erase(measured.begin(), measured.end() - static_cast<std::ptrdiff_t>(wish.most));
    BiasMap map;
    map.tries = static_cast<int>(measured.size());

    const auto keyOf = [](const ReviewedTry& one) { return MapPlace{one.kind, *one.place}; };
    std::map<MapPlace, int> places;
    for (const ReviewedTry* one : measured) places.emplace(keyOf(*one), 0);
    const std::size_t played = places.size();
    for (auto& [key, index] : places) {
        index = static_cast<int>(map.cells.size());
        map.cells.push_back(emptyCell(key, guitar));
    }
    for (const MapPlace& each : wish.also)
        if (places.emplace(each, static_cast<int>(map.cells.size())).second)
            map.cells.push_back(emptyCell(each, guitar));
    if (map.cells.empty()) return map;
    std::vector<Row> rows;
    std::map<int, int> dayNumbers;
    std::vector<std::set<int>> daysOf(map.cells.size());
    std::vector<std::vector<double>> errors(map.cells.size());
    for (const ReviewedTry* one : measured) {
        const int cell = places.at(keyOf(*one));
        const int day = dayNumbers.emplace(one->day, static_cast<int>(dayNumbers.size())).first->second;
        rows.push_back({*one->error, std::exp(-one->ofDay / model.coldTries), cell, day});
        daysOf[static_cast<std::size_t>(cell)].insert(day);
        errors[static_cast<std::size_t>(cell)].push_back(*one->error);
    }
    const Eigen::MatrixXd all = covarianceOf(map.cells);  // shared
    const auto playedCells = static_cast<Eigen::Index>(played);
    Fit fit(rows, all.topLeftCorner(playedCells, playedCells), static_cast<int>(dayNumbers.size()));
    fit.spreadTo(all);
    map.cold = fit.coldness();
    for (std::size_t i = 0; i < map.cells.size(); ++i) {
        MapCell& cell = map.cells[i];
        cell.tries = static_cast<int>(errors[i].size());
        cell.days = static_cast<int>(daysOf[i].size());
        cell.bias = fit.bias(i);
        // The days that a place was played on may all have been high.
        double ofDays = 0.0;
        for (const int day : daysOf[i]) ofDays += fit.dayVariance(day) / (cell.days * cell.days);
        cell.doubt = ninety * std::hypot(fit.sd(i), std::sqrt(ofDays));
        if (errors[i].empty()) continue;
        cell.spread = 1.4826 * medianDeviation(errors[i], median(errors[i]));  // as the sd of a normal distribution
    }
    if (wish.draw) map.drawn = fit.draw(*wish.draw, all);
    return map;
}

}  // namespace landfall
