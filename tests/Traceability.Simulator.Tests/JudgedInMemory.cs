using System.Collections.Immutable;
using System.Text;
using Traceability.Domain.Facts;
using Traceability.Domain.Judging;
using Traceability.Domain.Lots;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;
using Traceability.Domain.Scope;
using Traceability.Domain.Tools;
using Traceability.Service.Http.Reading;
using Traceability.Simulator.Plant;

namespace Traceability.Simulator.Tests;

/// <summary>The demo's facts read by the service's reader and judged by the service's rules, without a store.</summary>
internal sealed class JudgedInMemory
{
    private readonly Dictionary<string, List<RecordedFact>> _streams = new(StringComparer.Ordinal);
    private readonly JudgementScopeSource _source;
    private readonly Dictionary<LotKey, Lot> _lots;

    public JudgedInMemory(PlantRun plant)
    {
        foreach (var sent in plant.Facts)
        {
            var reading = FactReader.Read(Encoding.UTF8.GetBytes(sent.Json));
            if (reading.Fact is not { } read)
            {
                throw new InvalidOperationException($"{sent.Type} {sent.Unit}: {string.Join("; ", reading.Faults.Select(f => f.Pointer + " " + f.Detail))}");
            }

            Store(sent, read);
        }

        References = References.None.With(_streams
            .Select(s => KeyValuePair.Create(s.Key, References.Fold(s.Key, [.. s.Value])!)).Where(s => s.Value is not null));
        var units = _streams.Keys.Where(k => k.StartsWith(StreamNames.UnitPrefix, StringComparison.Ordinal)).Select(UnitOf).ToList();
        var installations = units.SelectMany(u => Judge.Unit(u, References).Installations).ToLookup(i => i.Component);
        foreach (var component in installations)
        {
            References = References.WithInstallations(component.Key, [.. component.OrderBy(i => i.From)]);
        }

        Units = units.Select(u => Judge.Unit(u, References)).ToDictionary(j => j.Unit.ToString(), StringComparer.Ordinal);
        _source = new(Units.Values);

        // Those that were made of others; the rest is no link in any chain.
        _lots = _streams.Keys.Where(k => k.StartsWith(StreamNames.LotPrefix, StringComparison.Ordinal))
            .Select(k => References.FindLot(LotKey.Parse(k[StreamNames.LotPrefix.Length..]))).OfType<Lot>().Where(l => l.HasSources).ToDictionary(l => l.Key);
    }

    public References References { get; }

    public IReadOnlyDictionary<string, UnitJudgement> Units { get; }

    /// <summary>What a unit and those inside it lack for its release, by the service's rules.</summary>
    public IEnumerable<string> LackingForRelease(string unit, DateTimeOffset at) =>
        Release.Ask(Assemble(StreamNames.UnitPrefix + unit), at).Select(b => $"{b.Unit} {b.Code} {b.Step} {b.Rule}");

    private AssembledUnit Assemble(string stream)
    {
        var unit = UnitOf(stream);
        var inside = Release.InsideOf(Judge.Unit(unit, References)).Select(k => StreamNames.Of(k)).Where(_streams.ContainsKey).Select(Assemble);
        return new(unit, References, [.. inside]);
    }

    /// <summary>Whether a tool is suspect for a use, by the service's rules.</summary>
    public bool IsSuspect(ToolUsage use) => References.FindTool(use.Tool) is { } tool && SuspectWindows.At(tool, use.Setting, use.At) is not null;

    /// <summary>What a lot or container reaches, by the service's walk.</summary>
    public async Task<ImmutableArray<ScopeMember>> ScopeAsync(string item, string lot, string? container)
    {
        var key = new LotKey(ItemNumber.Parse(item), LotNumber.Parse(lot));
        SuspectFactor factor = container is null ? new SuspectLot(key) : new SuspectContainer(key, ContainerNumber.Parse(container));
        var carriers = LotCarrier.Of(factor, _lots);
        var result = await ScopeWalk.RunAsync(factor, LotPresence.Of(factor, References.FindLot(key)), carriers, _source, CancellationToken.None);
        return result.Members;
    }

    private void Store(PlantFact sent, ReadFact read)
    {
        // As the service measures a clock; on a loopback connection the way of the request is no part of the offset.
        var off = -sent.ClockError;
        var clock = off.Duration() <= TimeSpan.FromSeconds(60)
            ? new ClockReading(TimeSpan.Zero, TimeSpan.FromSeconds(2), false)
            : new ClockReading(off, off.Duration(), true);
        var fact = read.Fact with { Clock = clock };
        var stream = StreamNames.Of(fact) ?? _streams.First(s => s.Value.Any(r => r.Id == RecordOf(fact))).Key;
        if (!_streams.TryGetValue(stream, out var facts))
        {
            _streams[stream] = facts = [];
        }

        facts.Add(new(read.Id, CorrectionDecisions.WithClock([.. facts], fact), sent.SentAt));
    }

    private static Guid RecordOf(Fact fact) => fact switch
    {
        RecordCorrected c => c.Record,
        RecordVoided v => v.Record,
        _ => throw new InvalidOperationException("Only a correction has no stream of its own."),
    };

    private ProductUnit UnitOf(string stream) => ProductUnit.Of(UnitKey.Parse(stream[StreamNames.UnitPrefix.Length..]), _streams[stream]);
}
