#include "src/audio/take_file.h"

#include <algorithm>
#include <condition_variable>
#include <cstdint>
#include <deque>
#include <mutex>
#include <thread>
#include <vector>

#include <fmt/core.h>

#include "src/audio/sound_file.h"

namespace landfall {

namespace {

using Samples = std::vector<float>;

}  // namespace

struct TakeKeeper::State {
    struct Job {
        std::filesystem::path file;
        Samples samples;
        std::string error;  // not to be written: only told
    };

    Config config;
    std::function<void(const Kept&)> done;

    // The analysis thread's.
    Samples ring;
    std::uint64_t heard = 0;

    // Shared.
    std::mutex mutex;
    std::condition_variable changed;
    std::deque<Job> jobs;
    std::vector<Samples> spare;
    bool ending = false;

    std::thread thread;

    void write() {
        std::unique_lock lock(mutex);
        while (true) {
            changed.wait(lock, [this] { return ending || !jobs.empty(); });
            if (jobs.empty()) return;
            Job job = std::move(jobs.front());
            jobs.pop_front();
            lock.unlock();
            if (job.error.empty())
                if (const auto written = writeFlac(job.file, config.sampleRate, job.samples); !written)
                    job.error = fmt::format("{}; the take was not kept, the marks are", written.error().message);
            if (done) done({job.file, printable(job.error)});
            lock.lock();
            if (job.samples.capacity() > 0) spare.push_back(std::move(job.samples));
        }
    }

    void copy(std::uint64_t from, std::uint64_t to, Samples& out) const {
        out.clear();
        for (std::uint64_t place = from; place < to;) {
            const std::size_t start = static_cast<std::size_t>(place % ring.size());
            const std::size_t length = std::min(static_cast<std::size_t>(to - place), ring.size() - start);
            out.insert(out.end(), ring.begin() + static_cast<std::ptrdiff_t>(start),
                       ring.begin() + static_cast<std::ptrdiff_t>(start + length));
            place += length;
        }
    }
};

TakeKeeper::TakeKeeper(const Config& config, std::function<void(const Kept&)> done) : state(std::make_unique<State>()) {
    state->config = config;
    state->done = std::move(done);
    const auto length = static_cast<std::size_t>((config.remembered.value + config.before.value) * config.sampleRate);
    state->ring.resize(std::max<std::size_t>(1, length));
    // Made ready here so that the analysis thread allocates nothing; memory that is never touched costs nothing.
    for (std::size_t i = 0; i < config.waiting; ++i) state->spare.emplace_back().reserve(state->ring.size());
    state->thread = std::thread([s = state.get()] { s->write(); });
}

TakeKeeper::~TakeKeeper() {
    {
        const std::lock_guard lock(state->mutex);
        state->ending = true;
    }
    state->changed.notify_one();
    state->thread.join();
}

void TakeKeeper::hear(std::span<const float> samples) noexcept {
    for (const float sample : samples) {
        state->ring[static_cast<std::size_t>(state->heard % state->ring.size())] = sample;
        ++state->heard;
    }
}

bool TakeKeeper::keep(Seconds onset, Seconds end, const std::filesystem::path& file) {
    State& s = *state;
    const auto sampleAt = [&s](double seconds) {
        return static_cast<std::uint64_t>(std::max(0.0, seconds * s.config.sampleRate + 0.5));
    };
    const std::uint64_t to = std::min(s.heard, sampleAt(end.value));
    const std::uint64_t oldest = s.heard > s.ring.size() ? s.heard - s.ring.size() : 0;
    const std::uint64_t from = std::max(oldest, sampleAt(onset.value - s.config.before.value));
    State::Job job{file, {}, {}};
    {
        const std::lock_guard lock(s.mutex);
        if (from >= to)
            job.error = fmt::format("{}: the take was not kept, its sound is no longer remembered; the marks are kept",
                                    file.string());
        else if (s.spare.empty())
            job.error =
                fmt::format("{}: the take was not kept, the disk is too slow; the marks are kept", file.string());
        else {
            job.samples = std::move(s.spare.back());
            s.spare.pop_back();
        }
    }
    const bool good = job.error.empty();
    if (good) s.copy(from, to, job.samples);
    {
        const std::lock_guard lock(s.mutex);
        s.jobs.push_back(std::move(job));
    }
    s.changed.notify_one();
    return good;
}

}  // namespace landfall
