using Traceability.Domain.Facts;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Domain.Tools;

namespace Traceability.Domain.Scope;

/// <summary>The units that a suspect tool reaches directly: by records that name it, and where one of its class is required and none recorded.</summary>
/// <remarks>
/// A use whose setting isn't recorded may have been at any: it is proven only where it is suspect whatever the setting was. Where a
/// fact about the tool can't be read, the times since it was last shown good aren't known, and nothing is proven by them.
/// </remarks>
internal sealed class ToolStart
{
    private readonly SuspectTool _suspect;
    private readonly Tool? _tool;
    private readonly bool _hasUnreadable;
    private readonly bool _isDoubtful;
    private readonly ImmutableArray<Code?> _settings;
    private readonly bool _hasWindows;
    private readonly Dictionary<string, ImmutableArray<Times>> _times = new(StringComparer.Ordinal);

    /// <summary>For a suspect tool.</summary>
    /// <param name="suspect">The suspect.</param>
    /// <param name="tool">Its facts; null if there are none.</param>
    public ToolStart(SuspectTool suspect, Tool? tool)
    {
        _suspect = suspect;
        _tool = tool;
        _hasUnreadable = tool is not null && tool.Effective.Any(f => !f.IsVoided && f.Fact is UnreadableFact);
        _isDoubtful = suspect.Times == ToolTimes.SinceLastGood && (tool is null || _hasUnreadable);
        _settings = suspect.Setting is { } setting ? [setting] : tool is null ? [null] : [.. SuspectWindows.Settings(tool), SuspectWindows.Unnamed];
        _hasWindows = tool is not null && _settings.Any(s => !SuspectWindows.Of(tool, s).IsEmpty);
    }

    private readonly record struct Times(DateTimeOffset? From, DateTimeOffset? To);

    /// <summary>Looks them up.</summary>
    public async ValueTask<DirectReaches> FindAsync(IScopeSource source, CancellationToken cancellation)
    {
        var found = new DirectReaches(_suspect);
        foreach (var use in await source.ToolUsesAsync(_suspect.Tool, cancellation))
        {
            found.AddRecord(Share(use), HopKind.ToolUsed, use.Unit, use.RowId, (use.From, use.To), use.Step, use.Station);
        }

        // A tool that was never described may be of any class.
        string[]? classes = _tool?.Effective.Where(f => !f.IsVoided).Select(f => f.Fact).OfType<ToolDefined>().Select(d => d.ToolClass.Value).Distinct(StringComparer.Ordinal).ToArray();
        foreach (var gap in await source.WorkGapsAsync(WorkGapKind.Tool, null, classes is { Length: > 0 } && !_hasUnreadable ? classes : null, cancellation))
        {
            var (from, to) = (_suspect.Filter.Earliest(gap.From), _suspect.Filter.Latest(gap.To));
            if (_settings.Any(s => Share(s, from, to) is not null))
            {
                found.AddGap(HopKind.ToolMissing, gap);
            }
        }

        return found;
    }

    private ScopeVerdict? Share(ToolUseRow use)
    {
        if (use.Setting is { } name)
        {
            var setting = Code.Parse(name);
            return _suspect.Setting is { } asked && asked != setting ? null : Share(setting, use.From, use.To);
        }

        if (_suspect.Times == ToolTimes.All)
        {
            return _suspect.Setting is null ? ScopeVerdict.Proven : ScopeVerdict.Possible;
        }

        ScopeVerdict?[] shares = [.. _settings.Select(s => Share(s, use.From, use.To))];
        return Array.TrueForAll(shares, s => s is null) ? null
            : _suspect.Setting is null && Array.TrueForAll(shares, s => s == ScopeVerdict.Proven) ? ScopeVerdict.Proven
            : ScopeVerdict.Possible;
    }

    // How sure it is that a use between these times, at that setting, was at a suspect time.
    private ScopeVerdict? Share(Code? setting, DateTimeOffset from, DateTimeOffset? to)
    {
        if (_isDoubtful)
        {
            return ScopeVerdict.Possible;
        }

        ScopeVerdict? share = null;
        foreach (var times in TimesOf(setting))
        {
            if ((times.From is not { } begin || from >= begin) && (times.To is not { } end || to < end))
            {
                return ScopeVerdict.Proven;
            }

            if ((times.From is not { } since || to is not { } latest || latest >= since) && (times.To is not { } until || from < until))
            {
                share = ScopeVerdict.Possible;
            }
        }

        return share;
    }

    private ImmutableArray<Times> TimesOf(Code? setting)
    {
        var name = setting is null ? string.Empty : "=" + setting;
        if (!_times.TryGetValue(name, out var times))
        {
            _times[name] = times = Find(setting);
        }

        return times;
    }

    private ImmutableArray<Times> Find(Code? setting) =>
        _suspect.Times == ToolTimes.All ? [new(null, null)]
        : _hasWindows ? [.. SuspectWindows.Of(_tool!, setting).Select(w => new Times(w.From, w.To))]
        : [new(SuspectWindows.LastGood(_tool!, setting), null)];
}
