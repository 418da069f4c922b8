using Microsoft.Extensions.Time.Testing;
using Traceability.Simulator.Plant;
using Traceability.Simulator.Posting;
using Xunit;

namespace Traceability.Simulator.Tests;

public sealed class HistoryPosterTests
{
    private static readonly PlantRun Plant = Demo.Small.Value;

    // Waits of retries pass at once; the clock still stands at one moment.
    private readonly FakeTimeProvider _time = new(Demo.Now) { AutoAdvanceAmount = TimeSpan.Zero };

    [Theory]
    [InlineData(1, 1)]
    [InlineData(8, 50)]
    [InlineData(32, 1_000)]
    public async Task A_history_is_accepted_whole_with_each_unit_in_order(int connections, int batch)
    {
        using var service = new FakeService(_time);
        var report = await PostAsync(service, new() { Connections = connections, Batch = batch, Window = 500 });
        Assert.Equal(Plant.Facts.Count, report.Accepted);
        Assert.Empty(report.Refused);
        Assert.Equal(0, report.Rounds);
        var place = service.Accepted.Select((id, i) => (id, i)).ToDictionary(p => p.id, p => p.i);
        foreach (var unit in Plant.Facts.Where(f => f.Unit is not null).GroupBy(f => f.Unit, StringComparer.Ordinal))
        {
            var arrived = unit.Select(f => place[f.Id]).ToList();
            Assert.Equal(arrived.Order(), arrived);
        }
    }

    [Fact]
    public async Task Each_fact_goes_with_the_key_and_the_clock_of_its_terminal()
    {
        using var service = new FakeService(_time);
        await PostAsync(service, new() { Batch = 100 });
        Assert.All(Plant.Facts, fact => Assert.Equal(("key of " + fact.Sender, fact.ClockError), service.SentBy[fact.Id]));
    }

    [Theory]
    [InlineData(1, 1)]
    [InlineData(2, 40)]
    [InlineData(3, 700)]
    public async Task Shuffled_and_duplicated_facts_are_all_accepted_in_the_end(int seed, int batch)
    {
        using var service = new FakeService(_time);
        var report = await PostAsync(service, new() { Batch = batch, ShuffleSeed = (ulong)seed, DuplicatesInTenThousand = 3_000 });
        Assert.Equal(Plant.Facts.Count, service.Accepted.Count);
        Assert.Equal(Plant.Facts.Count, report.Accepted);
        Assert.Empty(report.Refused);
        Assert.True(report.Rounds > 0, "Shuffled facts come before their unit is known.");
        Assert.True(service.Posted > Plant.Facts.Count * 1.25, "Three of ten facts are posted twice.");
        Assert.NotEqual(Plant.Facts.Select(f => f.Id), service.Accepted);
    }

    [Theory]
    [InlineData(null)]
    [InlineData(4)]
    public async Task What_a_person_decides_is_sent_after_what_it_is_about(int? shuffled)
    {
        using var service = new FakeService(_time);
        var report = await PostAsync(service, new() { Connections = 8, Batch = 30, ShuffleSeed = (ulong?)shuffled });
        Assert.Equal(Plant.Facts.Count, report.Accepted);
        var place = service.Accepted.Select((id, i) => (id, i)).ToDictionary(p => p.id, p => p.i);
        var decided = Plant.Facts.Where(f => f.After is not null).ToList();
        Assert.NotEmpty(decided);
        Assert.All(decided, f => Assert.True(place[f.Id] > place[f.After!.Value], f.Type));
    }

    [Fact]
    public async Task What_was_decided_about_a_refused_fact_is_told_as_not_sent()
    {
        var bad = Plant.Facts.First(f => f.Type == "nonconformance-taken-up").Id;
        using var service = new FakeService(_time) { Refused = bad };
        var report = await PostAsync(service, new() { ShuffleSeed = 4 });
        Assert.Contains(report.Refused, r => r.Fact.Id == bad && r.Answer.Code == "fact-malformed");
        Assert.Contains(report.Refused, r => r.Fact.After == bad && r.Answer.Code == "not-sent");
        Assert.Equal(Plant.Facts.Count, report.Accepted + report.Refused.Count);
    }

    [Fact]
    public async Task Broken_connections_and_a_busy_service_lose_and_double_nothing()
    {
        var service = new FakeService(_time) { FaultsInTenThousand = 1_500 };
        var posting = PostAsync(service, new() { Connections = 4, Batch = 20 });
        while (!posting.IsCompleted)
        {
            _time.Advance(TimeSpan.FromSeconds(5));
            await Task.Delay(1);
        }

        var report = await posting;
        Assert.Equal(Plant.Facts.Count, report.Accepted);
        Assert.Equal(Plant.Facts.Count, service.Accepted.Count);
    }

    [Fact]
    public async Task What_is_refused_for_good_is_told_and_the_rest_goes_on()
    {
        var bad = Plant.Facts.First(f => f.Type == "step-started").Id;
        using var service = new FakeService(_time) { Refused = bad };
        var report = await PostAsync(service, new());
        Assert.Equal([bad], report.Refused.Select(r => r.Fact.Id));
        Assert.Equal(Plant.Facts.Count - 1, report.Accepted);
    }

    [Fact]
    public async Task What_stays_unknown_is_given_up_when_nothing_moves()
    {
        var facts = Plant.Facts.Where(f => f.Unit == "FP-2/00003" && f.Type != "unit-opened").ToList();
        using var service = new FakeService(_time);
        var report = await PosterOf(service).PostAsync(facts, new());
        Assert.Equal(0, report.Accepted);
        Assert.Equal(facts.Count, report.Refused.Count);
        Assert.All(report.Refused, r => Assert.Equal("unit-unknown", r.Answer.Code));
    }

    private Task<PostReport> PostAsync(FakeService service, PostOptions options) => PosterOf(service).PostAsync(Plant.Facts, options);

    private HistoryPoster PosterOf(FakeService service) => new(
        new ServiceClient(new HttpClient(service, disposeHandler: false) { BaseAddress = new("http://service.test/") }, _time), sender => "key of " + sender);
}
