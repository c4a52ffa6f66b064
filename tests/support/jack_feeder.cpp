// jack_feeder FILE [--name CLIENT] [--repeat] [--seconds N] [--wait N] [--ports N]: a JACK client that plays a sound
// file's first channel to its output port "out_1" in real time, bit for bit. It waits (--wait, 20 s) until something is
// connected to the port, 0.3 s more, then plays from the first sample. With --ports the sound is that of the last of so
// many ports, which is also the one waited for; the others are silent. With --queue FILE is no sound: it plays the sound
// files that are named in it, a line each, as they are added, until it is killed, with an input's noise in between. Prints "playing", "late" each time the server
// says that it or a client was late (for the server's dummy driver as for a sound card sound may then be lost), and
// "done"; the exit status is 1 when the server or the file is not there, or the server went away.
#include <algorithm>
#include <atomic>
#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <deque>
#include <fstream>
#include <string>
#include <thread>
#include <vector>

#include <jack/jack.h>
#include <sndfile.h>

namespace {

struct Feeder {
    jack_port_t* port = nullptr;
    std::vector<float> samples;
    std::atomic<const std::vector<float>*> sound{nullptr};  // what is played now
    bool hums = false;                                      // between two sounds, as an amplifier does: near -100 dBFS
    unsigned noise = 1;
    bool repeat = false;
    std::size_t next = 0;  // the process thread's
    std::atomic<bool> go{false};
    std::atomic<bool> done{false};
    std::atomic<bool> gone{false};
    std::atomic<int> late{0};
};

int process(jack_nframes_t frames, void* user) {
    auto& feeder = *static_cast<Feeder*>(user);
    auto* out = static_cast<float*>(jack_port_get_buffer(feeder.port, frames));
    std::fill_n(out, frames, 0.0f);
    const std::vector<float>* sound = feeder.sound.load();
    if (feeder.hums)
        for (jack_nframes_t i = 0; i < frames; ++i) {
            feeder.noise = feeder.noise * 1664525U + 1013904223U;
            out[i] = 3e-5f * (static_cast<float>(feeder.noise >> 8) / 16777216.0f - 0.5f);
        }
    if (!feeder.go.load() || sound == nullptr) return 0;
    for (jack_nframes_t i = 0; i < frames;) {
        if (feeder.next == sound->size() && feeder.repeat) feeder.next = 0;
        const std::size_t part = std::min<std::size_t>(frames - i, sound->size() - feeder.next);
        if (part == 0) break;
        std::copy_n(sound->begin() + static_cast<std::ptrdiff_t>(feeder.next), part, out + i);
        feeder.next += part;
        i += static_cast<jack_nframes_t>(part);
    }
    if (feeder.next != sound->size() || feeder.repeat) return 0;
    feeder.next = 0;
    feeder.sound.store(nullptr);
    feeder.done.store(true);
    return 0;
}

bool load(const char* path, std::vector<float>& samples) {
    SF_INFO info{};
    SNDFILE* file = sf_open(path, SFM_READ, &info);
    if (file == nullptr) return false;
    std::vector<float> all(static_cast<std::size_t>(info.frames) * static_cast<std::size_t>(info.channels));
    const sf_count_t got = sf_readf_float(file, all.data(), info.frames);
    sf_close(file);
    for (sf_count_t i = 0; i < got; ++i)
        samples.push_back(all[static_cast<std::size_t>(i) * static_cast<std::size_t>(info.channels)]);
    return !samples.empty();
}

}  // namespace

int main(int argc, char** argv) {
    std::string path;
    std::string name = "jack_feeder", queue;
    double seconds = 1e9;
    double wait = 20.0;
    int ports = 1;
    static Feeder feeder;
    for (int i = 1; i < argc; ++i) {
        const std::string word = argv[i];
        if (word == "--repeat") feeder.repeat = true;
        else if (word == "--name" && i + 1 < argc) name = argv[++i];
        else if (word == "--queue" && i + 1 < argc) queue = argv[++i], feeder.hums = true;
        else if (word == "--seconds" && i + 1 < argc) seconds = std::atof(argv[++i]);
        else if (word == "--wait" && i + 1 < argc) wait = std::atof(argv[++i]);
        else if (word == "--ports" && i + 1 < argc) ports = std::max(1, std::atoi(argv[++i]));
        else path = word;
    }
    if (queue.empty() && !load(path.c_str(), feeder.samples)) {
        std::fprintf(stderr, "jack_feeder: %s: cannot be read\n", path.c_str());
        return 1;
    }
    jack_client_t* client =
        jack_client_open(name.c_str(), static_cast<jack_options_t>(JackNoStartServer | JackUseExactName), nullptr);
    if (client == nullptr) {
        std::fprintf(stderr, "jack_feeder: no JACK server, or the name %s is taken\n", name.c_str());
        return 1;
    }
    for (int number = 1; number <= ports; ++number)
        feeder.port = jack_port_register(client, ("out_" + std::to_string(number)).c_str(), JACK_DEFAULT_AUDIO_TYPE,
                                         JackPortIsOutput, 0);
    jack_set_process_callback(client, process, &feeder);
    jack_set_xrun_callback(
        client, [](void*) { return ++feeder.late, 0; }, nullptr);
    jack_on_shutdown(
        client, [](void*) { feeder.gone.store(true); }, nullptr);
    if (feeder.port == nullptr || jack_activate(client) != 0) return 1;

    using Clock = std::chrono::steady_clock;
    const auto pause = std::chrono::milliseconds(5);
    const auto waitEnd =
        Clock::now() + std::chrono::duration_cast<Clock::duration>(std::chrono::duration<double>(wait));
    while (queue.empty() && jack_port_connected(feeder.port) == 0 && !feeder.gone && Clock::now() < waitEnd)
        std::this_thread::sleep_for(pause);
    // A connected client may still be on its way to its first block.
    std::this_thread::sleep_for(std::chrono::milliseconds(300));
    const auto say = [](const char* word) {
        std::puts(word);
        std::fflush(stdout);
    };
    say("playing");
    if (queue.empty()) feeder.sound.store(&feeder.samples);
    feeder.go.store(true);
    std::deque<std::vector<float>> queued;
    std::ifstream lines(queue);
    const auto end =
        Clock::now()
        + std::chrono::duration_cast<Clock::duration>(std::chrono::duration<double>(std::min(seconds, 1e6)));
    while ((!feeder.done || !queue.empty()) && !feeder.gone && Clock::now() < end) {
        std::this_thread::sleep_for(pause);
        if (!queue.empty() && feeder.sound.load() == nullptr) {
            std::string file;
            if (!std::getline(lines, file)) lines.clear();
            else if (load(file.c_str(), queued.emplace_back())) feeder.sound.store(&queued.back());
        }
        if (feeder.late.exchange(0) > 0) say("late");
    }
    if (feeder.gone) std::_Exit(1);  // closing a client of a dead server can hang
    std::this_thread::sleep_for(std::chrono::milliseconds(200));
    say("done");
    jack_client_close(client);
    return 0;
}
