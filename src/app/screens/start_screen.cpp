#include "src/app/screens/start_screen.h"

#include <algorithm>

#include <fmt/core.h>

namespace landfall {

namespace {

using Kind = Intent::Kind;

constexpr int mostChannels = 8;  // of one device in the list; the others are in the settings

}  // namespace

StartScreen::StartScreen(std::string firstDrill, std::string firstDrillTrains) {
    start.firstDrill = std::move(firstDrill);
    start.firstDrillTrains = std::move(firstDrillTrains);
}

void StartScreen::begin() {
    start.step = StartStep::device;
    alone = false;
}

void StartScreen::show(StartStep step) {
    start.step = step;
    alone = true;
}

void StartScreen::lookingForInputs() { start.looking = true; }

void StartScreen::setInputs(const std::vector<SoundInput>& found, const Chosen& inUse) {
    const bool first = rows.empty(), wasHeard = marksHeard();
    const std::optional<Chosen> marked = rows.empty() ? inUse : input();
    start.looking = false;
    start.inputs.clear();
    rows.clear();
    for (const SoundInput& device : found)
        for (int channel = 1; channel <= std::min(device.channels, mostChannels); ++channel) {
            rows.push_back({false, device.label, channel});
            start.inputs.push_back({device.channels == 1 ? device.label : fmt::format("{}, channel {}", device.label, channel), Decibels(-140.0)});
        }
    if (!rows.empty()) {
        rows.push_back({true, "", 1});
        start.inputs.push_back({"Simulated player", Decibels(-140.0)});
    }
    // Where no device is named it is the system's choice that is heard.
    std::string device = marked->device;
    for (const SoundInput& one : found)
        if (device.empty() && one.systemChoice) device = one.label;
    start.selected = 0;
    heard = -1;
    for (std::size_t i = 0; i < rows.size(); ++i)
        if (rows[i].simulated == marked->simulated && (marked->simulated || (rows[i].device == device && rows[i].channel == marked->channel))) {
            start.selected = static_cast<int>(i);
            if (first || wasHeard) heard = start.selected;
        }
}

bool StartScreen::levels(const std::string& device, const std::vector<Decibels>& peaks) {
    metered = device;
    bool moved = false;
    for (std::size_t i = 0; i < rows.size(); ++i) {
        const auto channel = static_cast<std::size_t>(rows[i].channel - 1);
        const bool hears = !rows[i].simulated && rows[i].device == device && channel < peaks.size();
        const Decibels level = hears ? peaks[channel] : Decibels(-140.0);
        moved = moved || level != start.inputs[i].level;
        start.inputs[i].level = level;
    }
    return moved;
}

bool StartScreen::marksMetered() const {
    return !rows.empty() && !metered.empty() && !rows[static_cast<std::size_t>(start.selected)].simulated &&
           rows[static_cast<std::size_t>(start.selected)].device == metered;
}

std::optional<StartScreen::Chosen> StartScreen::input() const {
    if (rows.empty()) return std::nullopt;
    return rows[static_cast<std::size_t>(start.selected)];
}

void StartScreen::mark(int row) {
    start.selected = std::clamp(row, 0, std::max(0, static_cast<int>(rows.size()) - 1));
}

void StartScreen::stringsChecked() {
    if (start.step == StartStep::strings && !alone) start.step = StartStep::firstDrill;
}

StartWish StartScreen::goOn(bool skipped) {
    StartWish wish;
    switch (start.step) {
        case StartStep::device:
            wish.useInput = !skipped;
            // Without an input, and with the simulated player, there is no level to set.
            start.step = rows.empty() || input()->simulated ? StartStep::care : StartStep::level;
            break;
        case StartStep::level:
            start.step = StartStep::care;
            if (alone) wish.open = Screen::practice;
            return wish;
        case StartStep::care:
            wish.cautionsSeen = !skipped;
            start.step = StartStep::strings;
            if (alone) wish.open = Screen::settings;
            return wish;
        case StartStep::strings:
            if (skipped) start.step = StartStep::firstDrill;
            else wish.open = Screen::stringCheck;
            return wish;
        case StartStep::firstDrill:
            wish.playFirst = !skipped;
            if (skipped) wish.open = Screen::drills;
            return wish;
    }
    if (alone && start.step == StartStep::care) wish.open = Screen::practice;
    return wish;
}

StartWish StartScreen::act(const Intent& intent) {
    StartWish wish;
    const int before = start.selected;
    switch (intent.kind) {
        case Kind::previous: if (start.step == StartStep::device) mark(start.selected - 1); break;
        case Kind::following: if (start.step == StartStep::device) mark(start.selected + 1); break;
        case Kind::pick: if (start.step == StartStep::device) mark(intent.value); break;
        case Kind::choose: return goOn(false);
        case Kind::decline: return goOn(true);
        case Kind::less:  // one step back
            if (!alone && start.step > StartStep::device) start.step = static_cast<StartStep>(static_cast<int>(start.step) - 1);
            break;
        default: break;
    }
    wish.listen = start.selected != before;
    if (wish.listen) heard = start.selected;
    return wish;
}

}  // namespace landfall
