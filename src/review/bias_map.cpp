#include "src/review/bias_map.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <random>
#include <set>

#include <Eigen/Dense>

#include "dsp/statistics.h"
#include "src/music/bending_model.h"

namespace landfall {

namespace {

// y = f(cell) + day + cold·e^(−j/5) + Student t₄(0, s²), j = try of the day. f is a Gaussian process over the cells with
// the covariance below, in cents²: what places share, and what is each one's own. How large either is for this student
// is read off the tries (Sizes). The constants were chosen on simulated students and are to be fitted again on real
// logs; doc/measured.md has what it does on others. The usual spread of a day and of a first try stand in the same list.
struct Model {
    double everywhere = 25.0, sameKind = 36.0, near = 16.0, nearSameKind = 9.0, stiff = 25.0, alone = 16.0;
    double strings = 1.8, frets = 6.0;  // how far neighbours reach
    double day = 9.0, cold = 64.0;
    double coldTries = 5.0;
    double spreadFirst = 100.0, spreadWeight = 8.0;  // s² is drawn to spreadFirst as by so many tries
    double sizeDoubt = 1.2, sizeStep = 1.6;  // sd of the logarithm of either size, before any try; a step towards it
    double honest = 1.12;                    // by which intervals are wider: rougher hands than the model's
};
constexpr Model model;
constexpr double ninety = 1.6449;  // of a normal distribution
constexpr int rounds = 12;

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

// What the places share; what is each one's own is not in it.
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

// By which this student's faults are larger than usual, as variances.
struct Sizes {
    double shared = 1.0, own = 1.0;

    Eigen::MatrixXd of(const Eigen::MatrixXd& sharedUsually) const {
        Eigen::MatrixXd k = shared * sharedUsually;
        k.diagonal().array() += own * model.alone;
        return k;
    }
};

class Fit {
public:
    Fit(std::vector<Row>& given, Eigen::MatrixXd sharedByPlayed, int dayCount)
        : rows(given), shared(std::move(sharedByPlayed)), covariance(sizes.of(shared)),
          mean(Eigen::VectorXd::Zero(covariance.rows())), variance(Eigen::VectorXd::Zero(covariance.rows())),
          days(static_cast<std::size_t>(dayCount), 0.0), dayVariances(days) {
        for (int round = 0; round < rounds && !rows.empty(); ++round) {
            if (round > 0) fitSizes();
            weigh();
            fitCells();
            fitDays();
            fitCold();
        }
    }

    // Of all cells, the played ones first, which share `sharedByAll` before any try.
    void spreadTo(const Eigen::MatrixXd& sharedByAll) {
        const Eigen::MatrixXd all = sizes.of(sharedByAll);
        const Eigen::Index played = mean.size();
        posterior = all;
        mean = Eigen::VectorXd::Zero(all.rows());
        if (played == 0) return;
        const Eigen::LLT<Eigen::MatrixXd> factor(seen);
        const auto across = all.leftCols(played);
        mean = across * factor.solve(seenMeans);
        const Eigen::MatrixXd half = factor.matrixL().solve(across.transpose());
        posterior = all - half.transpose() * half;
    }
    double bias(std::size_t cell) const { return mean[static_cast<Eigen::Index>(cell)]; }
    double sd(std::size_t cell) const {
        const auto at = static_cast<Eigen::Index>(cell);
        return std::sqrt(std::max(0.0, posterior(at, at)));
    }
    std::vector<double> draw(unsigned seed) const {
        std::mt19937 random(seed);
        std::normal_distribution<double> normal;
        Eigen::VectorXd independent(mean.size());
        for (double& one : independent) one = normal(random);
        // A little on the diagonal: rounding may leave a covariance that is none.
        const Eigen::MatrixXd safe = posterior + 1e-6 * Eigen::MatrixXd::Identity(mean.size(), mean.size());
        const Eigen::VectorXd drawn = mean + Eigen::LLT<Eigen::MatrixXd>(safe).matrixL() * independent;
        return {drawn.begin(), drawn.end()};
    }
    double coldness() const { return cold; }
    // Of a day's offset, as far as it stays unknown.
    double dayVariance(int day) const { return dayVariances[static_cast<std::size_t>(day)]; }

private:
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

    // Mean and variance of f given each cell's weighted mean.
    void fitCells() {
        const Eigen::Index n = mean.size();
        Eigen::VectorXd weights = Eigen::VectorXd::Zero(n), sums = Eigen::VectorXd::Zero(n);
        for (const Row& row : rows) {
            weights[row.cell] += row.weight;
            sums[row.cell] += row.weight * left(row);
        }
        seen = covariance;
        for (Eigen::Index i = 0; i < n; ++i) seen(i, i) += spread / weights[i];
        const Eigen::LLT<Eigen::MatrixXd> factor(seen);
        seenMeans = sums.cwiseQuotient(weights);
        mean = covariance * factor.solve(seenMeans);
        const Eigen::MatrixXd half = factor.matrixL().solve(covariance);
        variance = (covariance.diagonal() - half.colwise().squaredNorm().transpose()).cwiseMax(0.0);
    }

    // How likely the cells' means are if the faults are of these sizes, as a logarithm.
    double evidence(const Sizes& of) const {
        Eigen::MatrixXd k = of.of(shared);
        k.diagonal() += seen.diagonal() - covariance.diagonal();
        const Eigen::LLT<Eigen::MatrixXd> factor(k);
        const double squares = factor.matrixL().solve(seenMeans).squaredNorm();
        const double logDet = 2.0 * factor.matrixLLT().diagonal().array().log().sum();
        const double usual = std::pow(std::log(of.shared), 2) + std::pow(std::log(of.own), 2);
        return -0.5 * (squares + logDet + usual / (model.sizeDoubt * model.sizeDoubt));
    }

    // A step towards likelier sizes.
    void fitSizes() {
        double best = evidence(sizes);
        for (double Sizes::*which : {&Sizes::shared, &Sizes::own})
            for (const double by : {model.sizeStep, 1.0 / model.sizeStep}) {
                Sizes other = sizes;
                other.*which *= by;
                const double here = evidence(other);
                if (here <= best) continue;
                best = here;
                sizes = other;
                break;
            }
        covariance = sizes.of(shared);
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
    Sizes sizes;
    Eigen::MatrixXd covariance, seen, posterior;  // before any try; with the tries' own spread; after them
    Eigen::VectorXd mean, variance, seenMeans;
    std::vector<double> days, dayVariances;
    double cold = 0.0, spread = 144.0;
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
        cell.doubt = ninety * model.honest * std::hypot(fit.sd(i), std::sqrt(ofDays));
        if (errors[i].empty()) continue;
        cell.spread = 1.4826 * medianDeviation(errors[i], median(errors[i]));  // as the sd of a normal distribution
    }
    if (wish.draw) map.drawn = fit.draw(*wish.draw);
    return map;
}

}  // namespace landfall
