using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;

namespace Traceability.Domain.ProductUnits;

/// <summary>One unit as its facts tell: the facts in order of arrival and what of them counts.</summary>
/// <remarks>Immutable; safe to share between threads and to cache by <see cref="Version"/>.</remarks>
public sealed class ProductUnit
{
    private ImmutableArray<EffectiveFact> _effective;

    private ProductUnit(UnitKey key, ImmutableArray<RecordedFact> facts)
    {
        Key = key;
        Facts = facts;
    }

    /// <summary>The unit's identity.</summary>
    public UnitKey Key { get; }

    /// <summary>All facts, in order of arrival.</summary>
    public ImmutableArray<RecordedFact> Facts { get; }

    /// <summary>The number of facts, which is the version of the unit's stream.</summary>
    public int Version => Facts.Length;

    /// <summary>The facts that count, ordered by when they happened; voided ones included and marked.</summary>
    public ImmutableArray<EffectiveFact> Effective =>
        _effective.IsDefault ? _effective = EffectiveFacts.Of(Facts) : _effective;

    /// <summary>The fact that opened the unit; null while nobody has opened it.</summary>
    public UnitOpened? Opened => Effective.FirstOrDefault(f => f is { IsVoided: false, Fact: UnitOpened })?.Fact as UnitOpened;

    /// <summary>A unit that nothing is known of.</summary>
    public static ProductUnit Unknown(UnitKey key) => new(key, []);

    /// <summary>A unit with these facts.</summary>
    public static ProductUnit Of(UnitKey key, IEnumerable<RecordedFact> facts) => new(key, [.. facts]);

    /// <summary>The unit with one more fact. Pure and total: every fact is kept, also one that can't be read.</summary>
    public ProductUnit With(RecordedFact happened) => new(Key, Facts.Add(happened))
    {
        _effective = _effective.IsDefault ? default : EffectiveFacts.With(_effective, Facts, happened) ?? default,
    };

    /// <summary>The fact with this id, or null.</summary>
    public RecordedFact? Find(Guid id) => Facts.FirstOrDefault(f => f.Id == id);
}
