using System.Diagnostics.CodeAnalysis;
using CsCheck;
using Npgsql;
using Traceability.Domain.Primitives;
using Traceability.Domain.Scope;
using Traceability.Service.Features.Scope;
using Traceability.Service.Storage.Answers;
using Traceability.Testing.Scope;
using Xunit;

namespace Traceability.Service.Tests.Scope;

public sealed class SqlScopeSourceTests
{
    private const int Cases = 300;

    private static readonly Gen<int[]> Choices = Gen.Int[0, 719].Array[100, 280];

    [Fact]
    public async Task The_tables_give_the_same_scope_as_the_judgements_in_memory()
    {
        await using var database = await ScopeDatabase.CreateAsync();
        await Choices.SampleAsync(
            async choices =>
            {
                var history = RandomGenealogy.From(choices, holesMax: 12);
                await database.FillAsync(history.Records);
                await using var connection = await database.Source.OpenConnectionAsync();
                var fromMemory = await SayAsync(history, new JudgementScopeSource(history.Records));
                Assert.Equal(fromMemory, await SayAsync(history, new SqlScopeSource(connection)));
                Assert.Equal(fromMemory, await SayAsync(history, AsOfMany(connection)));
                Assert.Equal(fromMemory, await SayAsync(history, await WithUsesAsync(history.Factor.Lot, new(connection) { EvidenceKept = 2, CountsCleared = true, ClearedAhead = 3 }, connection)));
                Assert.Equal(fromMemory, await SayAsync(history, await WithUsesAsync(history.Factor.Lot, AsOfMany(connection), connection)));
            },
            iter: Cases,
            threads: 1,
            print: choices => RandomGenealogy.From(choices, 12).ToString());
    }

    [Fact]
    public async Task The_tables_give_the_same_answer_to_every_question_as_the_judgements_in_memory()
    {
        await using var database = await ScopeDatabase.CreateAsync();
        await Gen.Int[0, 719].Array[300, 620].SampleAsync(
            async choices =>
            {
                var work = RandomWork.From(choices, holesMax: 12);
                await database.FillAsync(work.Records);
                await using var connection = await database.Source.OpenConnectionAsync();
                var fromMemory = await SayAsync(work, new JudgementScopeSource(work.Records));
                Assert.Equal(fromMemory, await SayAsync(work, new SqlScopeSource(connection)));
                Assert.Equal(fromMemory, await SayAsync(work, AsOfMany(connection)));
            },
            iter: 2 * Cases,
            threads: 1,
            print: choices => RandomWork.From(choices, 12).ToString());
    }

    [Theory]
    [InlineData("", true)]
    [InlineData("none", false)]
    [InlineData("set role pg_monitor", false)]
    public async Task Two_connections_that_see_the_same_moment_give_the_same_scope_also_where_the_second_one_fails(string second, bool helps)
    {
        await using var database = await ScopeDatabase.CreateAsync();
        await using var others = NpgsqlDataSource.Create(database.ConnectionString);
        using var seconds = Second(database, others, second);
        var helped = 0;
        await Choices.SampleAsync(
            async choices =>
            {
                var history = RandomGenealogy.From(choices, holesMax: 12);
                await database.FillAsync(history.Records);
                await using var session = await AnswerDatabase.BeginAsync(await database.Source.OpenConnectionAsync(), default);
                Assert.True(seconds.AreFor(session.Connection));
                var fromMemory = await SayAsync(history, new JudgementScopeSource(history.Records));
                var shared = AsOfMany(session.Connection, seconds);
                Assert.Equal(fromMemory, await SayAsync(history, shared));
                helped += shared.PartsOfSecond;
            },
            iter: Cases,
            threads: 1,
            print: choices => RandomGenealogy.From(choices, 12).ToString());
        Assert.Equal(helps, helped > 0);
    }

    [Fact]
    [SuppressMessage("Reliability", "CA2025:Ensure tasks using 'IDisposable' instances complete before the instances are disposed", Justification = "It is awaited before.")]
    public async Task A_second_connection_does_not_wait_for_one_that_waits_for_the_first()
    {
        await using var database = await ScopeDatabase.CreateAsync();
        var history = RandomGenealogy.From([.. Enumerable.Range(0, 240).Select(i => i * 37 % 720)], holesMax: 12);
        await database.FillAsync(history.Records);
        using var seconds = new SecondSessions(database.Source);
        await using var changer = await database.Source.OpenConnectionAsync();
        await using var change = await changer.BeginTransactionAsync();
        Task changed;
        await using (var session = await AnswerDatabase.BeginAsync(await database.Source.OpenConnectionAsync(), default))
        {
            await RunAsync(session.Connection, "select count(*) from traceability.installation");
            changed = RunAsync(changer, "lock table traceability.installation in access exclusive mode");
            await using (var looker = await database.Source.OpenConnectionAsync())
            {
                while (!await IsWaitingAsync(looker))
                {
                    await Task.Delay(20);
                }
            }

            var shared = AsOfMany(session.Connection, seconds);
            var fromMemory = await SayAsync(history, new JudgementScopeSource(history.Records));
            Assert.Equal(fromMemory, await SayAsync(history, shared).WaitAsync(TimeSpan.FromSeconds(5)));
            Assert.Equal(0, shared.PartsOfSecond);
            Assert.False(changed.IsCompleted);
        }

        await changed.WaitAsync(TimeSpan.FromSeconds(10));
    }

    private static async Task RunAsync(NpgsqlConnection connection, string sql)
    {
        await using var command = new NpgsqlCommand(sql, connection);
        await command.ExecuteNonQueryAsync();
    }

    private static async Task<bool> IsWaitingAsync(NpgsqlConnection connection)
    {
        await using var command = new NpgsqlCommand("select exists (select from pg_locks where not granted and mode = 'AccessExclusiveLock' and database = (select oid from pg_database where datname = current_database()))", connection);
        return (bool)(await command.ExecuteScalarAsync())!;
    }

    // Connections that can't be had, or may not read, for they are of another role.
    private static SecondSessions Second(ScopeDatabase database, NpgsqlDataSource others, string begin) => begin switch
    {
        "" => new(database.Source),
        "none" => new(database.Source, _ => throw new NpgsqlException("No connection.")),
        _ => new(database.Source, async cancellation =>
        {
            var connection = await others.OpenConnectionAsync(cancellation);
            await using var command = new NpgsqlCommand(begin, connection);
            await command.ExecuteNonQueryAsync(cancellation);
            return connection;
        }),
    };

    [Fact]
    public async Task A_small_scope_of_a_lot_whose_uses_are_known_is_told_by_one_question()
    {
        await using var database = await ScopeDatabase.CreateAsync();
        var told = 0;
        await Choices.SampleAsync(
            async choices =>
            {
                var history = RandomGenealogy.From(choices, holesMax: 0);
                if (history.Factor is not SuspectLot || !history.Carriers.IsEmpty || !history.Records.Any(r => r.Usages.Any(u => u.Lot == history.Factor.Lot)))
                {
                    return;
                }

                await database.FillAsync(history.Records);
                await using var connection = await database.Source.OpenConnectionAsync();
                var source = await WithUsesAsync(history.Factor.Lot, new(connection) { CountsCleared = true }, connection);
                using var questions = new QuestionCount();
                var scope = await ScopeWalk.RunAsync(history.Factor, history.Presence, history.Carriers, source, default);
                await scope.LocateAsync(default);
                await source.EvidenceAsync([.. scope.Members.SelectMany(m => ScopeWords.Keys(m.Best))], default);
                await source.CountClearedAsync([scope.Clearing], [.. scope.Members.Select(m => m.Unit)], default);
                Assert.Equal(1, questions.Count);
                told++;
            },
            iter: Cases,
            threads: 1,
            print: choices => RandomGenealogy.From(choices, 0).ToString());
        Assert.True(told > Cases / 10, $"Only {told} of {Cases} histories had what was asked for.");
    }

    // As if there were too many units to look each up with everything about it, too many rows to keep and too many members to send.
    private static SqlScopeSource AsOfMany(NpgsqlConnection connection, SecondSessions? seconds = null) =>
        new(connection) { FewUnits = 0, ClearedMost = 3, EvidenceKept = 0, CountsCleared = true, Seconds = seconds, PartLeast = 1 };

    // As when the lot's uses were asked for together with its facts.
    private static async Task<SqlScopeSource> WithUsesAsync(LotKey lot, SqlScopeSource rows, NpgsqlConnection connection)
    {
        await using var batch = new NpgsqlBatch(connection) { BatchCommands = { SqlScopeSource.UsagesCommand(lot) } };
        await using var reader = await batch.ExecuteReaderAsync();
        await rows.KeepUsagesAsync(lot, reader, default);
        return rows;
    }

    private static async Task<IReadOnlyList<string>> SayAsync(RandomWork work, IScopeSource source)
    {
        var found = await ScopeSearch.RunAsync(work.Suspect, source, work.Knowledge, default);
        return [.. await SayAsync(found, source), .. await SayClearedAsync(await ScopeSearch.RunAsync(AnyLot(work), source, work.Knowledge, default), source)];
    }

    // Two of the lots and containers that records name.
    private static SuspectAny AnyLot(RandomWork work) => new(
    [
        .. work.Records.SelectMany(r => r.Usages).Select(u => (u.Lot, u.Container)).Distinct().OrderBy(u => u.ToString(), StringComparer.Ordinal).Take(2)
            .Select(u => (Suspect)(u.Container is { } container ? new SuspectContainer(u.Lot, container) : new SuspectLot(u.Lot))),
    ]);

    private static async Task<IReadOnlyList<string>> SayClearedAsync(ScopeFound found, IScopeSource source)
    {
        string[] members = [.. found.Members.Select(m => m.Unit)];
        var cleared = await source.ClearedAsync(found.Clearing!.Value, members, null, 1_000, default);
        Assert.Equal(cleared.Count, await source.CountClearedAsync(found.Clearing.Value, members, default));
        return [$"cleared of {found.Suspect}: {cleared.Count}", .. cleared.Select(c => c.ToString())];
    }

    private static async Task<IReadOnlyList<string>> SayAsync(ScopeFound found, IScopeSource source)
    {
        var whereabouts = await found.Genealogy.LocateAsync([.. found.Members.Select(m => m.Unit)], default);
        var evidence = await source.EvidenceAsync([.. found.Members.SelectMany(m => m.Ways).SelectMany(w => ScopeWords.Keys(w.Member.Best))], default);
        var lines = new List<string> { string.Join(' ', found.Scopes.Select(s => s.IsNamed)) };
        for (var i = 0; i < found.Members.Length; i++)
        {
            var member = found.Members[i];
            lines.Add($"{member.Unit} {member.Verdict} now {member.Now} [{member.From:O}, {member.To:O}) {member.Together} {member.MayBeExcepted} {whereabouts[i]}");
            lines.Add(ScopeWords.Reason(member, evidence));
            lines.AddRange(member.Ways.SelectMany(w => ScopeWords.Path(w.Suspect, w.Member.Best, evidence)).Select(h => h.ToString()));
        }

        return lines;
    }

    // Everything that an answer is made of, as lines of text.
    private static async Task<IReadOnlyList<string>> SayAsync(RandomGenealogy history, IScopeSource source)
    {
        var scope = await ScopeWalk.RunAsync(history.Factor, history.Presence, history.Carriers, source, default);
        var whereabouts = await scope.LocateAsync(default);
        var lines = new List<string> { $"named: {scope.IsLotNamed} {scope.IsNamed}" };
        var evidence = await source.EvidenceAsync([.. scope.Members.SelectMany(m => ScopeWords.Keys(m.Best))], default);
        for (var i = 0; i < scope.Members.Length; i++)
        {
            var member = scope.Members[i];
            lines.Add($"{member.Unit} {member.Verdict} now {member.Now} [{member.From:O}, {member.To:O})");
            var path = ScopeWords.Path(history.Factor, member.Best, evidence);
            lines.AddRange(path.Select(hop => hop.ToString()));
            lines.Add(ScopeWords.Reason(member, path));
            lines.Add(whereabouts[i].ToString());
        }

        string[] members = [.. scope.Members.Select(m => m.Unit)];
        lines.Add($"cleared: {await source.CountClearedAsync([scope.Clearing], members, default)}");
        var cleared = await source.ClearedAsync([scope.Clearing], members, null, 1_000, default);
        lines.AddRange(cleared.Select(c => c.ToString()));
        if (cleared.Count > 1)
        {
            lines.AddRange((await source.ClearedAsync([scope.Clearing], members, cleared[0].Unit, 1, default)).Select(c => c.ToString()));
        }

        return lines;
    }
}
