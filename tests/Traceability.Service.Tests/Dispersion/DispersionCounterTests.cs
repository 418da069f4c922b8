using Microsoft.Extensions.Logging.Abstractions;
using Microsoft.Extensions.Options;
using Microsoft.Extensions.Time.Testing;
using Traceability.Service.Features.Dispersion;
using Traceability.Service.Storage.Workers;
using Traceability.Service.Tests.Scope;
using Traceability.Testing.Building;
using Xunit;

namespace Traceability.Service.Tests.Dispersion;

/// <summary>How soon the spread of lots is counted again.</summary>
public sealed class DispersionCounterTests
{
    private static readonly TimeSpan Step = TimeSpan.FromSeconds(1);

    // The worker goes to rest a moment after its count is seen: some steps of the clock may pass before.
    private static readonly TimeSpan Late = TimeSpan.FromSeconds(10);

    [Theory]
    [InlineData(0, 10)]
    [InlineData(0.5, 10)]
    [InlineData(1, 19)]
    [InlineData(6.3, 119.7)]
    public void A_count_is_followed_by_a_rest_of_ten_seconds_or_nineteen_times_as_long_as_it_took(double took, double rest) =>
        Assert.Equal(TimeSpan.FromSeconds(rest), DispersionCounter.RestAfter(TimeSpan.FromSeconds(took), new DispersionOptions().Pause));

    [Fact]
    public async Task What_was_recorded_since_is_counted_within_seconds_and_not_before_the_rest_is_over()
    {
        await using var database = await ScopeDatabase.CreateAsync();
        var clock = new FakeTimeProvider(Some.Noon);
        using var counter = new DispersionCounter(
            database.Source,
            new WorkerLease(database.Source, clock),
            new WorkerPulse(clock),
            clock,
            Options.Create(new DispersionOptions()),
            NullLogger<DispersionCounter>.Instance);
        await counter.StartAsync(default);
        Assert.Equal(Some.Noon, await CountedAsync(database, null, clock, TimeSpan.Zero));
        await database.ExecuteAsync("insert into traceability.rejudge (unit, asked_at) values ('FP-2/9', now())");

        var again = await CountedAsync(database, Some.Noon, clock, Step);

        Assert.InRange(again - Some.Noon, new DispersionOptions().Pause, new DispersionOptions().Pause + Late);
        await counter.StopAsync(default);
    }

    // When it was counted, once that is another time than before; until then the clock goes on step by step.
    private static async Task<DateTimeOffset> CountedAsync(ScopeDatabase database, DateTimeOffset? before, FakeTimeProvider clock, TimeSpan step)
    {
        for (var i = 0; i < 300; i++)
        {
            await using var command = database.Source.CreateCommand("select counted_at from traceability.dispersion_count where counted_at is not null");
            if (await command.ExecuteScalarAsync() is DateTime at && at != before?.UtcDateTime)
            {
                return new(at, TimeSpan.Zero);
            }

            await Task.Delay(TimeSpan.FromMilliseconds(100));
            clock.Advance(step);
        }

        throw new TimeoutException("It was not counted.");
    }
}
