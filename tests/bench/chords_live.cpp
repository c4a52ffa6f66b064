// chords_live FOLDER: practises each move of several strings that a folder of marked takes holds (truth/ID.json, wav/ID.flac:
// the takes that `landfall mark` is scored by), as a drill would ask it, and prints what the Listener said while they were
// played against the truth: tries found, landings, how late the words came, false tries, and the cost.
#include <algorithm>
#include <cmath>
#include <ctime>
#include <filesystem>
#include <fstream>
#include <map>
#include <string>
#include <vector>

#include <fmt/core.h>
#include <nlohmann/json.hpp>

#include "dsp/statistics.h"
#include "src/audio/sound_file.h"
#include "src/music/chord_move.h"
#include "src/practice/listener.h"

using namespace landfall;
using Json = nlohmann::json;

namespace {

// Moves under one stroke, as they were played.
struct Group {
    std::vector<Move> steps;
    std::vector<Json> truth;
    double stroke = 0.0;
};

struct Score {
    std::vector<double> landing, first, arrival, delay;
    int steps = 0, found = 0, strings = 0, missed = 0, silent = 0, silentTold = 0, falseTries = 0, gross = 0;
    double heard = 0.0, cost = 0.0;  // s

    void add(const Score& other) {
        for (const auto list : {&Score::landing, &Score::first, &Score::arrival, &Score::delay})
            (this->*list).insert((this->*list).end(), (other.*list).begin(), (other.*list).end());
        for (const auto count : {&Score::steps, &Score::found, &Score::strings, &Score::missed, &Score::silent,
                                 &Score::silentTold, &Score::falseTries, &Score::gross})
            this->*count += other.*count;
        heard += other.heard;
        cost += other.cost;
    }
};

std::vector<Group> groupsOf(const Json& truth) {
    std::vector<Group> groups;
    for (const Json& entry : truth.at("moves")) {
        const std::string text = entry.at("move");
        if (!namesSeveralStrings(text)) continue;
        const auto move = parseChordMove(text);
        if (!move) continue;
        const double stroke = entry.at("onset_s");
        const bool goes = !groups.empty()
                          && (std::abs(stroke - groups.back().stroke) < 0.06 || move->gesture == Gesture::release)
                          && goesOn(groups.back().steps.back(), *move);
        if (!goes) groups.push_back({{}, {}, stroke});
        groups.back().steps.push_back(*move);
        groups.back().truth.push_back(entry);
    }
    return groups;
}

std::vector<ListenerEvent> listen(const std::filesystem::path& take, const std::vector<Move>& steps, Score& score) {
    auto file = SoundFile::open(take.string(), 1);
    std::vector<ListenerEvent> events;
    if (!file) return events;
    Listener listener({.sampleRate = file->sampleRate()});
    listener.setMoves(steps, MoveOrder::everyTry);
    std::vector<float> block(4096);
    const std::clock_t began = std::clock();
    for (std::size_t got = file->read(block); got > 0; got = file->read(block)) {
        const auto heard = listener.process(std::span(block).first(got));
        events.insert(events.end(), heard.begin(), heard.end());
        score.heard += static_cast<double>(got) / file->sampleRate();
    }
    const auto rest = listener.finish();
    events.insert(events.end(), rest.begin(), rest.end());
    score.cost += static_cast<double>(std::clock() - began) / CLOCKS_PER_SEC;
    return events;
}

void scoreStep(const Json& truth, std::size_t step, const std::vector<ListenerEvent>& events, Score& score, bool loud) {
    ++score.steps;
    const double arrival = truth.at("arrival_s");
    const bool struck = truth.at("gesture") == "note";
    const Landing* best = nullptr;
    double delay = -1.0;
    for (const ListenerEvent& event : events) {
        if (const auto* ended = std::get_if<TryEnded>(&event))
            if (ended->landing.moveNumber == static_cast<int>(step) + 1 && ended->landing.landingTime
                && std::abs(ended->landing.landingTime->value - arrival) < 0.15)
                best = &ended->landing;
        if (const auto* final = std::get_if<FinalLanding>(&event); final && delay < 0.0)
            if (final->landing.moveNumber == static_cast<int>(step) + 1 && final->landing.landingTime
                && std::abs(final->landing.landingTime->value - arrival) < 0.15)
                delay = final->at.value - arrival;
    }
    if (!best) {
        if (loud) fmt::print("  not found: {} at {:.2f}\n", truth.at("move").get<std::string>(), arrival);
        return;
    }
    ++score.found;
    if (!struck) score.arrival.push_back(1e3 * std::abs(best->landingTime->value - arrival));
    score.delay.push_back(delay);
    const auto& notes = truth.at("notes");
    for (std::size_t j = 0; j < notes.size(); ++j) {
        const auto& string = best->strings[j];
        if (!notes[j].at("heard").get<bool>()) {
            ++score.silent;
            score.silentTold += string.heard == StringHeard::no;
            continue;
        }
        ++score.strings;
        if (!string.landingError) {
            ++score.missed;
            continue;
        }
        const double error = std::abs(string.landingError->value - notes[j].at("landing_cents").get<double>());
        score.gross += error > 50.0;
        score.landing.push_back(error);
        if (string.firstStopError && notes[j].contains("first_stop_cents")
            && notes[j].at("first_stop_cents").is_number())
            score.first.push_back(
                std::abs(string.firstStopError->value - notes[j].at("first_stop_cents").get<double>()));
    }
}

double part(std::vector<double> values, double share) {
    if (values.empty()) return std::nan("");
    std::sort(values.begin(), values.end());
    return values[static_cast<std::size_t>(share * static_cast<double>(values.size() - 1))];
}

void print(const std::string& name, const Score& s) {
    fmt::print(
        "{:<12} {:>4} of {:>4} found; landing {:.2f} / {:.2f}; first {:.2f} / {:.2f}; arrival {:.1f} / {:.0f} ms; "
        "word after {:.0f} / {:.0f} ms; {} of {} strings missed, {} gross; silent {} of {}; {} false; cost {:.3f}\n",
        name, s.found, s.steps, part(s.landing, 0.5), part(s.landing, 0.95), part(s.first, 0.5), part(s.first, 0.95),
        part(s.arrival, 0.5), part(s.arrival, 0.95), 1e3 * part(s.delay, 0.5), 1e3 * part(s.delay, 0.95), s.missed,
        s.strings, s.gross, s.silentTold, s.silent, s.falseTries, s.cost / std::max(1e-9, s.heard));
}

}  // namespace

int main(int argc, char** argv) {
    if (argc < 2) return 2;
    const std::filesystem::path folder = argv[1];
    const std::string only = argc > 2 ? argv[2] : "";
    std::vector<std::filesystem::path> files;
    for (const auto& entry : std::filesystem::directory_iterator(folder / "truth"))
        if (entry.path().extension() == ".json" && entry.path().stem().string().find(only) != std::string::npos)
            files.push_back(entry.path());
    std::sort(files.begin(), files.end());
    std::map<std::string, Score> kinds;
    for (const auto& path : files) {
        std::ifstream text(path);
        const Json truth = Json::parse(text);
        const auto groups = groupsOf(truth);
        Score& kind = kinds[truth.at("kind")];
        for (std::size_t g = 0; g < groups.size(); ++g) {
            const auto before = std::find_if(groups.begin(), groups.begin() + static_cast<std::ptrdiff_t>(g),
                                             [&](const Group& each) { return each.steps == groups[g].steps; });
            if (before != groups.begin() + static_cast<std::ptrdiff_t>(g)) continue;
            const auto events = listen(folder / "wav" / (path.stem().string() + ".flac"), groups[g].steps, kind);
            for (const Group& played : groups)
                if (played.steps == groups[g].steps)
                    for (std::size_t k = 0; k < played.steps.size(); ++k)
                        scoreStep(played.truth[k], k, events, kind, !only.empty());
            for (const ListenerEvent& event : events) {
                const auto* ended = std::get_if<TryEnded>(&event);
                if (!ended) continue;
                kind.falseTries += std::none_of(groups.begin(), groups.end(), [&](const Group& each) {
                    return std::abs(each.stroke - ended->landing.onset.value) < 0.1;
                });
                if (!only.empty())
                    fmt::print("  {:.2f} {} {}\n", ended->landing.onset.value, notesOf(ended->landing.move),
                               ended->landing.sentence);
            }
        }
    }
    Score all;
    for (const auto& [name, score] : kinds) all.add(score);
    for (const auto& [name, score] : kinds) print(name, score);
    print("all", all);
    return 0;
}
