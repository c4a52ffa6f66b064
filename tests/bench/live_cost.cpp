// live_cost [SECONDS]: what practising costs while a guitar is played: `landfall practise` on a device of JACK's dummy
// driver that another program plays a student's bends to, trainer and audio process together, as a share of one core.
#include <sys/resource.h>

#include <cstdlib>

#include <fmt/core.h>
#include <sndfile.hh>

#include "tests/support/command.h"
#include "tests/support/sound_server.h"
#include "tests/support/student_takes.h"

using namespace landfall;
using namespace landfall::test;

namespace {

double seconds(const timeval& time) {
    return static_cast<double>(time.tv_sec) + 1e-6 * static_cast<double>(time.tv_usec);
}

// Of the children that have ended and been waited for, and of theirs.
double childrensSeconds() {
    rusage used{};
    getrusage(RUSAGE_CHILDREN, &used);
    return seconds(used.ru_utime) + seconds(used.ru_stime);
}

}  // namespace

int main(int argc, char** argv) {
    const double length = argc > 1 ? std::atof(argv[1]) : 60.0;
    if (!JackServer::installed()) {
        fmt::print(stderr, "live_cost: no jackd: apt-get install jackd2\n");
        return 1;
    }
    JackServer server;
    if (!server.up()) {
        fmt::print(stderr, "live_cost: jackd does not start\n");
        return 1;
    }
    const TestFolder folder;
    StudentTake take{.name = "half-steps", .played = {}, .seed = 9};
    for (const double error : {-20.0, 5.0, 12.0, -8.0, 3.0, 17.0})
        take.played.emplace_back(moveAt(Gesture::bend, {2, 8}, 0, 1),
                                 PlayerWish{.firstStopError = Cents(error), .played = Played::landed});
    const auto sound = soundOf(take).samples;
    SndfileHandle((folder / "student.wav").string(), SFM_WRITE, SF_FORMAT_WAV | SF_FORMAT_FLOAT, 1, 48000)
        .write(sound.data(), std::ssize(sound));
    Program feeder({LANDFALL_JACK_FEEDER, (folder / "student.wav").string(), "--name", "student", "--repeat"});
    pauseFor(0.5);
    ::setenv("XDG_CONFIG_HOME", folder.path.c_str(), 1);
    Program trainer(
        {"/bin/sh", "-c",
         fmt::format("exec {} practise 'Half up' --device 'JACK: student' --skip-check --no-tone --log {} > {}",
                     LANDFALL_PROGRAM, (folder / "log.sqlite").string(), (folder / "said").string())});
    const double before = childrensSeconds();
    pauseFor(length);
    if (!trainer.running()) {
        fmt::print(stderr, "live_cost: practising ended by itself\n");
        return 1;
    }
    trainer.ask(SIGINT);
    if (!within(10.0, [&trainer] { return !trainer.running(); })) {
        fmt::print(stderr, "live_cost: practising does not end when asked\n");
        return 1;
    }
    const double used = childrensSeconds() - before;
    fmt::print("{}", readText(folder / "said"));
    fmt::print("{:.0f} s of practising through a sound server: {:.2f} s of processor time, {:.1f} % of one core\n",
               length, used, 100.0 * used / length);
    return 0;
}
