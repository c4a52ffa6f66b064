// memory_soak [MINUTES]: an hour of the simulated student through the whole chain, log writer included; anonymous
// memory every ten minutes of sound.
#include <array>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <string>

#include <fmt/core.h>

#include "src/audio/simulated_player.h"
#include "src/formats/drill_file.h"
#include "src/practice/listener.h"
#include "src/store/store_writer.h"

using namespace landfall;

namespace {

// Linux: RssAnon of /proc/self/status, kB.
long anonymousMemory() {
    std::ifstream status("/proc/self/status");
    for (std::string word; status >> word;)
        if (word == "RssAnon:") {
            long kilobytes = 0;
            status >> kilobytes;
            return kilobytes;
        }
    return -1;
}

}  // namespace

int main(int argc, char** argv) {
    const double minutes = argc > 1 ? std::atof(argv[1]) : 60.0;
    constexpr double rate = 48000.0;
    SimulatedPlayer::Config student;
    student.skill = ines();
    SimulatedPlayer player(student);
    const auto drill = findDrill("Whole up");
    const auto moves = movesAt(*drill, Guitar{}, drill->places.front());
    Listener listener({.sampleRate = rate});
    listener.setMoves(*moves, MoveOrder::everyTry);
    const auto folder = std::filesystem::temp_directory_path() / "landfall-memory-soak";
    std::filesystem::create_directories(folder);
    StoreWriter::Config where;
    where.log = folder / "log.sqlite";
    where.sitting.student = "Ines";
    StoreWriter log(std::move(where));
    std::array<float, 512> block{};
    int tries = 0;
    double told = 0.0;
    fmt::print("minutes of sound  tries  anonymous memory kB\n");
    for (double heard = 0.0; heard <= minutes * 60.0 + 0.1; heard += static_cast<double>(block.size()) / rate) {
        if (heard >= told) {
            fmt::print("{:16.0f} {:6} {:10}\n", heard / 60.0, tries, anonymousMemory());
            std::fflush(stdout);
            told += 600.0;
        }
        if (player.queued().value <= 0.0) {
            player.noodle(Seconds(1.0));
            player.rest(Seconds(0.8));
            player.play(*moves);
            player.rest(Seconds(0.8));
        }
        player.read(block);
        for (const ListenerEvent& event : listener.process(block))
            if (const auto* ended = std::get_if<TryEnded>(&event)) {
                LoggedTry row;
                row.drill = drill->name;
                row.landing = ended->landing;
                log.add(std::move(row));
                ++tries;
            }
    }
    std::filesystem::remove_all(folder);
}
