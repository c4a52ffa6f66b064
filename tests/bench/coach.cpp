// Closes the loop of the coach on simulated students: coach [FIRST_SEED STUDENTS [others]]. Each plays 300 tries, 30 a
// day, at places that the coach, chance, one place after another or the worst mean choose. Prints how near the map came
// and how fast the faults went. Three models of learning, smooth and sparse faults; with `others` eight more kinds.
// These students rank designs; they predict nobody.
#include <algorithm>
#include <cmath>
#include <ctime>
#include <map>
#include <random>
#include <span>
#include <string>
#include <vector>

#include <fmt/core.h>

#include "src/review/next_place.h"

using namespace landfall;

namespace {

// none: stays as it is; slowly: a third as fast as byTries; restless: by tries, and each place wanders from day to day
enum class Learning { byTries, byMisses, forgetting, none, slowly, restless };
// smooth: some bumps over all kinds; sparse: two over one kind each; rough: each place its own; leaning: all the same way
enum class Faults { smooth, sparse, rough, leaning };
enum class Policy { coach, chance, blocked, worstMean };
constexpr int tries = 300, aDay = 30, marks[] = {30, 60, 120, 300};

// Of this program on a core: others on the machine do not count.
double millisecondsSince(std::clock_t begin) {
    return 1000.0 * static_cast<double>(std::clock() - begin) / CLOCKS_PER_SEC;
}

class Student {
public:
    Student(unsigned seed, Learning how, Faults faults, const Guitar& guitar) : random(seed), learning(how) {
        for (const MapPlace& each : allowedPlaces(guitar)) places.push_back(each);
        if (faults == Faults::rough)
            for (const MapPlace& at : places) bias[at] = normal(9.0);
        else addBumps(faults == Faults::sparse);
        if (faults == Faults::leaning)
            for (const MapPlace& at : places) bias[at] = 0.5 * bias[at] - 12.0;
        double squares = 0.0;
        for (const MapPlace& at : places) squares += bias[at] * bias[at];
        const double scale = 9.0 / std::max(1e-9, std::sqrt(squares / static_cast<double>(places.size())));
        for (auto& [at, value] : bias) value *= scale;
        first = bias;
    }

    void beginDay() {
        offset = normal(3.0);
        if (learning == Learning::forgetting)
            for (auto& [at, value] : bias) value += 0.15 * (first[at] - value);
        if (learning == Learning::restless)
            for (auto& [at, value] : bias) value += normal(1.5);
    }
    double play(const MapPlace& at, int ofDay) {
        std::student_t_distribution<double> noise(4.0);
        const double error = bias[at] + offset - 6.0 * std::exp(-ofDay / 5.0) + 10.0 * noise(random);
        if (learning == Learning::none || (learning == Learning::byMisses && std::abs(error) < 12.0)) return error;
        for (auto& [other, value] : bias) {
            if (other.kind != at.kind) continue;
            const double ds = other.place.string - at.place.string, df = other.place.fret - at.place.fret;
            value *= 1.0 - rate() * std::exp(-0.5 * (ds * ds + df * df / 4.0));
        }
        return error;
    }
    double rms() const {
        double sum = 0.0;
        for (const auto& [at, value] : bias) sum += value * value;
        return std::sqrt(sum / static_cast<double>(bias.size()));
    }

    std::vector<MapPlace> places;
    std::map<MapPlace, double> bias, first;
    std::mt19937 random;

private:
    void addBumps(bool sparse) {
        for (int bump = 0; bump < (sparse ? 2 : 6); ++bump) {
            const double string = real(1, 3), fret = real(5, 12), height = normal(sparse ? 20.0 : 9.0);
            const int kind = static_cast<int>(real(0, 3.99));
            for (const MapPlace& at : places) {
                const bool same = at.kind == places[static_cast<std::size_t>(kind) * places.size() / 4].kind;
                const double ds = at.place.string - string, df = at.place.fret - fret;
                bias[at] += (same || !sparse ? height : 0.0) * std::exp(-0.5 * (ds * ds / 2.0 + df * df / 9.0));
            }
        }
    }
    double rate() const {
        if (learning == Learning::byMisses) return 0.12;
        if (learning == Learning::forgetting) return 0.10;
        return learning == Learning::slowly ? 0.02 : 0.06;
    }
    double real(double from, double to) { return std::uniform_real_distribution(from, to)(random); }
    double normal(double sd) { return std::normal_distribution(0.0, sd)(random); }
    Learning learning;
    double offset = 0.0;
};

struct Figures {
    double left = 0.0, area = 0.0, toCriterion = 0.0;  // RMS of the faults after all tries; its mean; tries to half
    std::map<int, double> squares, held, cells;        // of the map, after so many tries
    double slowest = 0.0;                              // ms for one answer

    void add(const Figures& other) {
        left += other.left;
        area += other.area;
        toCriterion += other.toCriterion;
        slowest = std::max(slowest, other.slowest);
        for (const int mark : marks) {
            squares[mark] += other.squares.at(mark);
            held[mark] += other.held.at(mark);
            cells[mark] += other.cells.at(mark);
        }
    }
};

// Share of the intervals that hold, and its standard error: the places of one student stand or fall together, so the
// students are what was drawn (a ratio of sums; W. G. Cochran, Sampling Techniques, 3rd ed. 1977, 6.4).
std::pair<double, double> heldShare(std::span<const Figures> students, int mark) {
    double held = 0.0, cells = 0.0, squares = 0.0;
    for (const Figures& one : students) {
        held += one.held.at(mark);
        cells += one.cells.at(mark);
    }
    for (const Figures& one : students) squares += std::pow(one.held.at(mark) - held / cells * one.cells.at(mark), 2);
    const double n = static_cast<double>(students.size());
    return {held / cells, n > 1.0 ? std::sqrt(squares * n / (n - 1.0)) / cells : 0.0};
}

MapPlace chosen(Policy policy, Student& student, const std::vector<ReviewedTry>& played, const Guitar& guitar, int day,
                Figures& figures) {
    const auto any = [&] { return student.places[student.random() % student.places.size()]; };
    switch (policy) {
        case Policy::coach: {
            const std::clock_t begin = std::clock();
            const MapPlace at = nextPlace(played, guitar, day)->at;
            figures.slowest = std::max(figures.slowest, millisecondsSince(begin));
            return at;
        }
        case Policy::blocked: return student.places[played.size() / 12 * 7 % student.places.size()];
        case Policy::worstMean: {
            std::map<MapPlace, std::pair<double, int>> sums;
            for (const ReviewedTry& one : played) {
                auto& [sum, count] = sums[{one.kind, *one.place}];
                sum += *one.error;
                ++count;
            }
            if (sums.size() < 12) return any();
            return std::ranges::max_element(
                       sums, {}, [](const auto& each) { return std::abs(each.second.first / each.second.second); })
                ->first;
        }
        case Policy::chance: break;
    }
    return any();
}

void score(const Student& student, const std::vector<ReviewedTry>& played, const Guitar& guitar, Figures& figures) {
    const int count = static_cast<int>(played.size());
    for (const MapCell& cell : biasMapOf(played, guitar).cells) {
        const double off = cell.bias - student.bias.at({cell.kind, cell.place});
        figures.squares[count] += off * off;
        figures.held[count] += std::abs(off) <= cell.doubt ? 1.0 : 0.0;
        ++figures.cells[count];
    }
}

void practise(Policy policy, Student student, const Guitar& guitar, Figures& figures) {
    std::vector<ReviewedTry> played;
    const double begin = student.rms();
    int reached = tries;
    MapPlace at;
    for (int i = 0; i < tries; ++i) {
        const int day = i / aDay, ofDay = i % aDay;
        if (ofDay == 0) student.beginDay();
        if (i % 2 == 0 || policy == Policy::coach) at = chosen(policy, student, played, guitar, day, figures);
        ReviewedTry one;
        one.day = day;
        one.ofDay = ofDay;
        one.kind = at.kind;
        one.place = at.place;
        one.counted = true;
        one.error = student.play(at, ofDay);
        played.push_back(one);
        figures.area += student.rms() / tries;
        if (reached == tries && student.rms() < 0.6 * begin) reached = i;
        if (std::ranges::find(marks, i + 1) != std::end(marks)) score(student, played, guitar, figures);
    }
    figures.left += student.rms();
    figures.toCriterion += reached;
}

void largeLog(const Guitar& guitar) {
    Student student(7, Learning::byTries, Faults::smooth, guitar);
    std::vector<ReviewedTry> played;
    for (int i = 0; i < 10000; ++i) {
        ReviewedTry one;
        one.day = i / 100;
        one.ofDay = i % 100;
        const MapPlace at = student.places[student.random() % student.places.size()];
        one.kind = at.kind;
        one.place = at.place;
        one.counted = true;
        one.error = student.play(at, one.ofDay);
        played.push_back(one);
    }
    for (const MapPlace& probe : coldProbes(guitar)) {
        played.push_back(played.back());
        played.back().kind = probe.kind;
        played.back().place = probe.place;
    }
    const std::clock_t begin = std::clock();
    const auto next = nextPlace(played, guitar, played.back().day);
    fmt::print("10000 tries: {:.1f} ms. {}\n", millisecondsSince(begin), next->reason);
}

struct Model {
    Learning learning;
    Faults faults;
    const char* name;
};
constexpr Model chosenOn[] = {
    {Learning::byTries, Faults::smooth, "by tries, faults smooth"},
    {Learning::byTries, Faults::sparse, "by tries, faults sparse"},
    {Learning::byMisses, Faults::smooth, "by misses, faults smooth"},
    {Learning::byMisses, Faults::sparse, "by misses, faults sparse"},
    {Learning::forgetting, Faults::smooth, "and forgets, faults smooth"},
    {Learning::forgetting, Faults::sparse, "and forgets, faults sparse"},
};
constexpr Model others[] = {
    {Learning::none, Faults::smooth, "nothing, faults smooth"},
    {Learning::none, Faults::sparse, "nothing, faults sparse"},
    {Learning::none, Faults::rough, "nothing, faults rough"},
    {Learning::slowly, Faults::smooth, "slowly, faults smooth"},
    {Learning::byTries, Faults::rough, "by tries, faults rough"},
    {Learning::byTries, Faults::leaning, "by tries, all lean"},
    {Learning::restless, Faults::smooth, "restless, faults smooth"},
    {Learning::restless, Faults::sparse, "restless, faults sparse"},
};

// The figures of each student under the coach.
std::vector<Figures> print(const Model& model, unsigned first, int students, const Guitar& guitar) {
    const std::pair<Policy, const char*> policies[] = {{Policy::chance, "chance"},
                                                       {Policy::blocked, "blocked"},
                                                       {Policy::worstMean, "worst mean"},
                                                       {Policy::coach, "coach"}};
    fmt::print("\nlearns {}; of 9 cents RMS:\n", model.name);
    std::vector<Figures> each;
    for (const auto& [policy, name] : policies) {
        Figures figures;
        each.assign(static_cast<std::size_t>(students), {});
        for (std::size_t i = 0; i < each.size(); ++i) {
            practise(policy, Student(first + static_cast<unsigned>(i), model.learning, model.faults, guitar), guitar,
                     each[i]);
            figures.add(each[i]);
        }
        fmt::print("  {:<11} left {:.2f}, mean {:.2f}, tries to 60 % {:.0f}; map", name, figures.left / students,
                   figures.area / students, figures.toCriterion / students);
        for (const int mark : marks)
            fmt::print("  {}: {:.1f} ({:.2f})", mark, std::sqrt(figures.squares[mark] / figures.cells[mark]),
                       figures.held[mark] / figures.cells[mark]);
        if (policy == Policy::coach) fmt::print("; {:.1f} ms at the most", figures.slowest);
        fmt::print("\n");
    }
    return each;
}

// All kinds together. A seed has the same faults whatever learns from them, so it counts as one student.
void printHeld(std::span<const Figures> bySeed) {
    fmt::print("\n90 % intervals of all these kinds under the coach hold (% ± standard error):");
    for (const int mark : marks) {
        const auto [share, error] = heldShare(bySeed, mark);
        fmt::print("  {}: {:.1f} ± {:.1f}", mark, 100.0 * share, 100.0 * error);
    }
    fmt::print("\n");
}

}  // namespace

int main(int argc, char** argv) {
    const unsigned first = argc > 1 ? static_cast<unsigned>(std::stoul(argv[1])) : 1;
    const int students = argc > 2 ? std::stoi(argv[2]) : 20;
    const bool unseen = argc > 3 && std::string(argv[3]) == "others";
    const Guitar guitar;
    largeLog(guitar);
    std::vector<Figures> bySeed(static_cast<std::size_t>(students));
    for (const Model& model : unseen ? std::span<const Model>(others) : std::span<const Model>(chosenOn)) {
        const std::vector<Figures> each = print(model, first, students, guitar);
        for (std::size_t i = 0; i < each.size(); ++i) bySeed[i].add(each[i]);
    }
    printHeld(bySeed);
    return 0;
}
