using Traceability.Benchmarks.Figures;

namespace Traceability.Benchmarks.Scopes;

/// <summary>Fills the tables that scopes are answered from with a fleet of finals, as judging would have.</summary>
/// <remarks>
/// <para>
/// A final has three subassemblies in it, each with its own serial number. The uses are dealt out to them and to the final. The
/// case uses resin, which the suspect lots are of, so half of a lot's members are cases and half the finals around them.
/// </para>
/// <para>
/// Evidence is missing as it is in a plant, in every thousandth case: its resin, and in every two-thousandth final the serial of its case. A
/// final is begun each second; what is missing lies outside the time in which a suspect lot was there, but has to be looked at.
/// </para>
/// </remarks>
/// <param name="bench">The servers.</param>
/// <param name="usages">Uses of each final and what is in it, at least one.</param>
internal sealed class ScopesFill(Bench bench, int usages)
{
    /// <summary>The item that the suspect lots are of.</summary>
    public const string Item = "RESIN-1";

    private const string Station = "ST-05";

    private const string Tool = "SD-5";

    // With leading zeros, as the demo's have and most that are put on a label.
    private const string Serial = "lpad(i::text, 7, '0')";

    private const string At = "timestamptz '2026-01-01' + i * interval '1 second'";

    // First final and number of finals: what is missing (see below) must lie outside.
    private static readonly (string Lot, int First, int Finals)[] Suspects = [("M100", 1, 50), ("M5000", 4_000, 2_500), ("M50000", 20_000, 25_000)];

    private static readonly string[] Subassemblies = ["CASE-1", "DRIVE-1", "HEAD-1"];

    /// <summary>Questions for the same 5,000 members by other suspects than the lot.</summary>
    public static IReadOnlyList<(string Name, string Json)> Questions { get; } = Ask();

    /// <summary>The members of each.</summary>
    public const int QuestionMembers = 5_000;

    /// <summary>A lot that is asked for to warm the service up; its members are none of the others'.</summary>
    public static string Other => "B15";

    /// <summary>The finals that must be there for a scope of so many members.</summary>
    public static int FinalsFor(int members) => Suspects.Where(s => s.Finals * 2 == members).Select(s => s.First + s.Finals).Single();

    /// <summary>Says when each suspect lot was there: from just before its first use until just after its last.</summary>
    public async Task DefineAsync()
    {
        List<string> facts = [Fact(1, "item-defined", 0, $"\"item\":\"{Item}\",\"kind\":\"consumable\",\"description\":\"Resin\"")];
        foreach (var (lot, first, finals) in Suspects)
        {
            var key = $"\"lot\":{{\"item\":\"{Item}\",\"lot\":\"{lot}\"}}";
            facts.Add(Fact(facts.Count + 1, "lot-received", first, key + ",\"isReleased\":true"));
            facts.Add(Fact(facts.Count + 1, "lot-emptied", first + finals, key));
        }

        var other = $"\"lot\":{{\"item\":\"{Item}\",\"lot\":\"{Other}\"}}";
        facts.Add(Fact(facts.Count + 1, "lot-received", 7_500, other + ",\"isReleased\":true"));
        facts.Add(Fact(facts.Count + 1, "lot-emptied", 8_000, other));
        await bench.PostBatchAsync(facts);
    }

    /// <summary>Writes the finals of these numbers, the last left out.</summary>
    public async Task FillAsync(int from, int to)
    {
        var range = string.Create(CultureInfo.InvariantCulture, $"generate_series({from}, {to - 1}) i");
        foreach (var item in (string[])["FINAL-1", .. Subassemblies])
        {
            await RunAsync($"insert into traceability.unit (unit, item, serial, revision, opened_at, place, since, consignee, has_unreadable, version, judgement) select '{item}/' || {Serial}, '{item}', {Serial}, 'A', {At}, '{(item == "FINAL-1" ? "shipped" : "in-stock")}', {At} + interval '2 hours', {(item == "FINAL-1" ? "'Consignee ' || i % 40" : "null")}, false, 25, 1 from {range}");
        }

        foreach (var (item, n) in Subassemblies.Select((s, n) => (s, n)))
        {
            var known = item == "CASE-1" ? $"where {Suspected} is not null or i % 2000 <> 999" : string.Empty;
            await RunAsync($"insert into traceability.installation (parent, row_id, component, position, step, record, installed_from, uncertainty) select 'FINAL-1/' || {Serial}, i::bigint * 4 + {n}, '{item}/' || {Serial}, 'P{n}', 'JOIN', md5(i::text)::uuid, {At} + interval '1 hour', interval '2 seconds' from {range} {known}");
        }

        for (var use = 0; use < usages; use++)
        {
            await UseAsync(use, range);
        }

        await EvidenceAsync(range);
        const string Missing = "insert into traceability.trace_gap (unit, row_id, item, kind, reason, step, record, requirement, used_from, used_to, station)";
        await RunAsync($"{Missing} select 'CASE-1/' || {Serial}, i, '{Item}', 'lot', 'not-recorded', 'POT', md5(i::text)::uuid, 'RESIN', {At}, {At}, 'ST-01' from {range} where {IsMissing}");
        await RunAsync($"{Missing} select 'FINAL-1/' || {Serial}, i, 'CASE-1', 'serial', 'not-recorded', 'JOIN', md5(i::text)::uuid, 'P0', {At} + interval '1 hour', {At} + interval '1 hour', 'ST-09' from {range} where {Suspected} is null and i % 2000 = 999");
        await RunAsync("vacuum analyze traceability.unit, traceability.material_usage, traceability.installation, traceability.trace_gap, traceability.step_result, traceability.tool_usage, traceability.measurement");
    }

    // No case of a suspect lot lacks its resin: the size of the scope is to be exact.
    private static string IsMissing => $"{Suspected} is null and i % 1000 = 501";

    private static string Suspected =>
        $"(case {string.Concat(Suspects.Select(s => string.Create(CultureInfo.InvariantCulture, $"when i >= {s.First} and i < {s.First + s.Finals} then '{s.Lot}' ")))}end)";

    // Every case was potted with one tool at one station; the torque was too low for those of one lot.
    private async Task EvidenceAsync(string range)
    {
        foreach (var item in (string[])["FINAL-1", .. Subassemblies])
        {
            var (step, station) = item == "CASE-1" ? ("POT", Station) : ("JOIN", "ST-09");
            await RunAsync($"insert into traceability.step_result (unit, row_id, item, variant, revision, step, attempt, record, started_at, completed_at, earliest, latest, day, station, person, is_rework, passed, defects, opportunities) select '{item}/' || {Serial}, i, '{item}', '', 'A', '{step}', 1, md5(i::text)::uuid, {At}, {At}, {At}, {At}, '2026-01-01', '{station}', 'P-1', false, true, 0, 3 from {range}");
        }

        await RunAsync($"insert into traceability.tool_usage (unit, row_id, tool, setting, requirement, step, attempt, record, at, used_from, used_to, station) select 'CASE-1/' || {Serial}, i, '{Tool}', '5', 'DRIVER', 'POT', 1, md5(i::text)::uuid, {At}, {At}, {At}, '{Station}' from {range}");
        await RunAsync($"insert into traceability.measurement (unit, row_id, item, step, attempt, record, characteristic, value, magnitude, dimension, passed, used_from, used_to, station) select 'CASE-1/' || {Serial}, i, 'CASE-1', 'POT', 1, md5(i::text)::uuid, 'TORQUE', case when {Suspected} = 'M5000' then '1.0 N.m' else '1.2 N.m' end, case when {Suspected} = 'M5000' then 1.0 else 1.2 end, 'L2.M.T-2', true, {At}, {At}, '{Station}' from {range}");
    }

    private Task UseAsync(int use, string range)
    {
        var unit = use % 4 == 3 ? "FINAL-1" : Subassemblies[use % 4];
        var (item, lot, where) = use == 0 ? (Item, $"coalesce({Suspected}, 'B' || i / 500)", $"where not ({IsMissing})") : (string.Create(CultureInfo.InvariantCulture, $"MAT-{use}"), "'B' || i / 500", string.Empty);
        return RunAsync(string.Create(
            CultureInfo.InvariantCulture,
            $"insert into traceability.material_usage (unit, row_id, item, lot, is_one_of, step, record, requirement, used_from, used_to, station) select '{unit}/' || {Serial}, i::bigint * 64 + {use}, '{item}', {lot}, false, 'S{use}', md5(i || '-{use}')::uuid, 'R{use}', {At}, {At}, 'ST-0{use % 9}' from {range} {where}"));
    }

    private static IReadOnlyList<(string Name, string Json)> Ask()
    {
        var (_, first, finals) = Suspects.Single(s => s.Finals * 2 == QuestionMembers);
        var begin = new DateTime(2026, 1, 1);
        var time = $"\"from\":\"{begin.AddSeconds(first):yyyy-MM-ddTHH:mm:ss}Z\",\"to\":\"{begin.AddSeconds(first + finals):yyyy-MM-ddTHH:mm:ss}Z\"";
        var lot = $"{{\"kind\":\"lot\",\"item\":\"{Item}\",\"lot\":\"M5000\"}}";
        var tool = $"{{\"kind\":\"tool\",\"tool\":\"{Tool}\",\"window\":\"all\",{time}}}";
        return
        [
            ("a lot", lot),
            ("a tool in a time", tool),
            ("work at a station in a time", $"{{\"kind\":\"work\",\"station\":\"{Station}\",{time}}}"),
            ("a measured value below a bound", "{\"kind\":\"measured\",\"characteristic\":\"TORQUE\",\"below\":{\"value\":1.1,\"unit\":\"N.m\"}}"),
            ("the lot and the tool", $"{{\"kind\":\"and\",\"of\":[{lot},{tool}]}}"),
        ];
    }

    private static string Fact(int number, string type, int second, string members) =>
        $$"""{"factId":"{{new Guid(number, 7, 7, new byte[8])}}","type":"{{type}}","occurredAt":"{{new DateTime(2026, 1, 1).AddSeconds(second):yyyy-MM-ddTHH:mm:ss}}Z",{{members}}}""";

    private Task RunAsync(string sql) => bench.ExecuteAsync(bench.ServiceDatabase, sql);
}
