// print_landings [OTHER]: what the Listener says of the shared takes, a quantity a line. With a file that another build
// printed: exit status 1 and the lines that differ by more than a hundredth of a cent or of a hop.
#include <fstream>
#include <iterator>
#include <map>

#include <fmt/core.h>

#include "tests/support/heard_events.h"
#include "tests/support/student_takes.h"

using namespace landfall;

namespace {

constexpr double mostApart = 0.01;

std::map<std::string, double> quantities() {
    std::map<std::string, double> all;
    for (const StudentTake& take : studentTakes()) {
        const TakeSound sound = soundOf(take);
        int count = 0;
        for (const Landing& landing : landingsIn(sound.samples, 48000.0, take.moves())) {
            const auto put = [&](const char* what, double value) {
                all[fmt::format("{}/{}/{}", take.name, landing.moveNumber, what)] = value;
            };
            const auto putCents = [&](const char* what, const std::optional<Cents>& cents) {
                put(what, cents ? cents->value : 9999.0);
            };
            put("verdict", static_cast<double>(landing.verdict));
            putCents("landing", landing.landingError);
            putCents("first-stop", landing.firstStopError);
            putCents("sd", landing.sd);
            putCents("start", landing.startError);
            putCents("sag", landing.sag);
            putCents("overshoot", landing.overshoot);
            put("landing-time-hops", landing.landingTime ? landing.landingTime->value / 0.005 : 9999.0);
            if (landing.vibrato) put("vibrato-centre", landing.vibrato->centre.value);
            ++count;
        }
        all[take.name + "/landings"] = count;
    }
    return all;
}

int compare(const std::map<std::string, double>& here, const char* file) {
    std::ifstream in(file);
    std::map<std::string, double> other;
    std::string name;
    for (double value = 0.0; in >> name >> value;) other[name] = value;
    double furthest = 0.0;
    int apart = 0;
    for (const auto& [what, value] : here) {
        const auto found = other.find(what);
        const double difference = found == other.end() ? 9999.0 : std::abs(value - found->second);
        furthest = std::max(furthest, difference);
        if (difference <= mostApart) continue;
        ++apart;
        fmt::print("{}: {:.6f} here, {} in {}\n", what, value,
                   found == other.end() ? "not there" : fmt::format("{:.6f}", found->second), file);
    }
    if (other.size() != here.size()) fmt::print("{} quantities here, {} in {}\n", here.size(), other.size(), file);
    fmt::print("{} quantities, {} differ by more than {} (furthest {:.2g})\n", here.size(), apart, mostApart, furthest);
    return apart == 0 && other.size() == here.size() ? 0 : 1;
}

}  // namespace

int main(int argc, char** argv) {
    const auto all = quantities();
    if (argc > 1) return compare(all, argv[1]);
    for (const auto& [what, value] : all) fmt::print("{} {:.9f}\n", what, value);
    return 0;
}
