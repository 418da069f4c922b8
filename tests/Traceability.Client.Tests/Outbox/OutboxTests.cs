using Traceability.Client.Outbox;

namespace Traceability.Client.Tests.Outbox;

/// <summary>What an outbox keeps, and what it says of it.</summary>
public sealed class OutboxTests : IDisposable
{
    private readonly OutboxFolder folder = new();

    public void Dispose() => folder.Dispose();

    [Fact]
    public async Task A_fact_is_there_with_its_id_after_the_outbox_was_opened_again()
    {
        OutboxEntry stored;
        await using (var outbox = await folder.OpenAsync())
        {
            stored = await outbox.EnqueueAsync(Some.Step("1"));
        }

        await using var again = await folder.OpenAsync();
        var entry = Assert.Single(await again.ListAsync(OutboxState.Waiting));
        Assert.NotEqual(Guid.Empty, stored.FactId);
        Assert.Equal(stored, entry);
        Assert.Equal("unit/LAMP/1", entry.Lane);
        Assert.Equal(stored.FactId, Some.Parse(entry.Fact).GetProperty("factId").GetGuid());
        Assert.Null(again.Damage);
    }

    [Fact]
    public async Task A_commit_waits_for_the_disk()
    {
        await using var outbox = await folder.OpenAsync();

        Assert.Equal(("wal", 2L), outbox.Durability);
    }

    [Fact]
    public async Task Numbers_keep_the_digits_that_were_entered()
    {
        await using var outbox = await folder.OpenAsync();
        var entry = await outbox.EnqueueJsonAsync("""
            { "type": "step-completed", "unit": {"item":"LAMP","serial":"1"},
              "measurements": [ {"value": 1.50} ], "note": "line\nbreak, ±5 µm" }
            """);

        Assert.Contains("1.50", entry.Fact, StringComparison.Ordinal);
        Assert.DoesNotContain('\n', entry.Fact);
        Assert.Equal("line\nbreak, ±5 µm", Some.Parse(entry.Fact).GetProperty("note").GetString());
    }

    [Theory]
    [InlineData("{")]
    [InlineData("[]")]
    [InlineData("{}")]
    [InlineData("""{"type":5}""")]
    [InlineData("""{"type":"step-completed","factId":"no"}""")]
    public async Task What_is_no_fact_at_all_is_not_taken(string json)
    {
        await using var outbox = await folder.OpenAsync();

        await Assert.ThrowsAsync<FormatException>(() => outbox.EnqueueJsonAsync(json));
        Assert.Equal(0, outbox.View().Waiting);
    }

    [Fact]
    public async Task The_same_fact_stored_again_is_one_and_with_another_content_it_is_a_conflict()
    {
        await using var outbox = await folder.OpenAsync();
        var fact = Some.Step("1") with { FactId = FactIds.Next() };

        var both = await Task.WhenAll(Enumerable.Range(0, 8).Select(_ => outbox.EnqueueAsync(fact)));

        Assert.Single(both.Select(e => e.Number).Distinct());
        await Assert.ThrowsAsync<OutboxConflictException>(() => outbox.EnqueueAsync(fact with { Note = "another" }));
        Assert.Equal(1, outbox.View().Waiting);
    }

    [Fact]
    public async Task A_full_outbox_takes_nothing_and_says_so()
    {
        await using var outbox = await folder.OpenAsync(change: o => o with { EntriesMax = 3 });
        var stored = 0;
        var refused = 0;
        await Task.WhenAll(Enumerable.Range(0, 10).Select(async i =>
        {
            try
            {
                await outbox.EnqueueAsync(Some.Step(FormattableString.Invariant($"{i}")));
                Interlocked.Increment(ref stored);
            }
            catch (OutboxFullException)
            {
                Interlocked.Increment(ref refused);
            }
        }));

        Assert.Equal((3, 7), (stored, refused));
        Assert.Equal(3, (await outbox.ListAsync(OutboxState.Waiting)).Count);
        Assert.Equal(1, outbox.View().Fill);
    }

    [Fact]
    public async Task A_second_process_is_told_who_has_it()
    {
        await using var outbox = await folder.OpenAsync();

        var refused = await Assert.ThrowsAsync<OutboxInUseException>(() => folder.OpenAsync());

        Assert.Contains(FormattableString.Invariant($"process {Environment.ProcessId}"), refused.Message, StringComparison.Ordinal);
    }

    [Fact]
    public async Task An_outbox_of_a_newer_version_is_left_alone()
    {
        await using (var outbox = await folder.OpenAsync())
        {
            await outbox.EnqueueAsync(Some.Step("1"));
        }

        using (var connection = new Microsoft.Data.Sqlite.SqliteConnection($"Data Source={folder.Database};Pooling=False"))
        {
            connection.Open();
            using var command = connection.CreateCommand();
            command.CommandText = "pragma user_version = 2";
            command.ExecuteNonQuery();
        }

        var refused = await Assert.ThrowsAsync<OutboxException>(() => folder.OpenAsync());
        Assert.Contains("newer version", refused.Message, StringComparison.Ordinal);
        Assert.Empty(Directory.GetDirectories(folder.Path));
    }

    [Fact]
    public async Task A_step_of_the_clock_while_facts_wait_is_seen_over_restarts_of_the_program()
    {
        var clock = new TestClock();
        await using (var outbox = await folder.OpenAsync(clock))
        {
            await outbox.EnqueueAsync(Some.Step("1"));
            clock.Pass(TimeSpan.FromHours(3));
            Assert.Empty(outbox.View().ClockJumps);
        }

        clock.Ahead = TimeSpan.FromHours(-2);
        await using var again = await folder.OpenAsync(clock);
        var jump = Assert.Single(again.View().ClockJumps);
        Assert.Equal(-7200, jump.By!.Value.TotalSeconds, 1.0);
        Assert.InRange(again.View().OldestWaiting!.Value.TotalHours, 2.99, 3.01);
    }
}
