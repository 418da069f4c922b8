using System.Runtime.InteropServices;
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

    [StructLayout(LayoutKind.Auto)]
    private readonly record struct Times(DateTimeOffset? From, DateTimeOffset? To);

    [StructLayout(LayoutKind.Auto)]
    private readonly record struct Part(ScopeVerdict Verdict, DateTimeOffset From);

    /// <summary>Looks them up.</summary>
    public async ValueTask<DirectReaches> FindAsync(IScopeSource source, CancellationToken cancellation)
    {
        var found = new DirectReaches(_suspect);
        var (from, to) = Bounds();
        foreach (var use in await source.ToolUsesAsync(_suspect.Tool, from, to, cancellation))
        {
            if (ShareInFilter(use) is { } share)
            {
                found.AddRecord(share.Verdict, HopKind.ToolUsed, use.Unit, use.RowId, (share.From, use.To), use.Step, use.Station);
            }
        }

        foreach (var gap in await source.WorkGapsAsync(WorkGapKind.Tool, null, Classes(), cancellation))
        {
            var (earliest, latest) = (_suspect.Filter.Earliest(gap.From), _suspect.Filter.Latest(gap.To));
            if (Any(_settings.Select(s => Share(s, earliest, latest))) is { } share)
            {
                found.AddGap(HopKind.ToolMissing, gap with { From = share.From });
            }
        }

        return found;
    }

    // No use outside them counts. A setting that none of the tool's facts names has the times of the unnamed one, which is among them.
    private (DateTimeOffset? From, DateTimeOffset? To) Bounds()
    {
        var filter = _suspect.Filter;
        Times[] times = _isDoubtful ? [] : [.. _settings.SelectMany(s => TimesOf(s))];
        var from = times.Length == 0 || times.Any(t => t.From is null) ? null : times.Min(t => t.From);
        var to = times.Length == 0 || times.Any(t => t.To is null) ? null : times.Max(t => t.To);
        return (from is null || filter.From > from ? filter.From ?? from : from, to is null || filter.To < to ? filter.To ?? to : to);
    }

    // A tool that was never described, or not readably, may be of any class.
    private string[]? Classes()
    {
        string[] classes = _tool is null || _hasUnreadable
            ? []
            : [.. _tool.Effective.Where(f => !f.IsVoided).Select(f => f.Fact).OfType<ToolDefined>().Select(d => d.ToolClass.Value).Distinct(StringComparer.Ordinal)];
        return classes.Length > 0 ? classes : null;
    }

    // A use of which only a part is asked for was at a suspect time in that part, or not at all.
    private Part? ShareInFilter(ToolUseRow use)
    {
        if (_suspect.Filter.Share(use.From, use.To, use.Step, use.Station) is null)
        {
            return null;
        }

        var part = use with { From = _suspect.Filter.Earliest(use.From), To = _suspect.Filter.Latest(use.To)!.Value };
        return Share(part) is not { } share ? null
            : part == use ? share
            : share with { Verdict = ScopeVerdict.Possible };
    }

    private Part? Share(ToolUseRow use)
    {
        if (use.Setting is { } name)
        {
            var setting = Code.Parse(name);
            return _suspect.Setting is { } asked && asked != setting ? null : Share(setting, use.From, use.To);
        }

        if (_suspect.Times == ToolTimes.All)
        {
            return new(_suspect.Setting is null ? ScopeVerdict.Proven : ScopeVerdict.Possible, use.From);
        }

        Part?[] parts = [.. _settings.Select(s => Share(s, use.From, use.To))];
        return Any(parts) is not { } any ? null
            : any with { Verdict = _suspect.Setting is null && Array.TrueForAll(parts, p => p?.Verdict == ScopeVerdict.Proven) ? ScopeVerdict.Proven : ScopeVerdict.Possible };
    }

    // Whichever it was: possible, from the earliest on.
    private static Part? Any(IEnumerable<Part?> parts)
    {
        Part? any = null;
        foreach (var part in parts)
        {
            any = part is not { } p ? any : any is { } known && known.From <= p.From ? known : p;
        }

        return any is { } found ? found with { Verdict = ScopeVerdict.Possible } : null;
    }

    // How sure it is that a use between these times, at that setting, was at a suspect time, and from when on.
    private Part? Share(Code? setting, DateTimeOffset from, DateTimeOffset? to)
    {
        if (_isDoubtful)
        {
            return new(ScopeVerdict.Possible, from);
        }

        Part? share = null;
        foreach (var times in TimesOf(setting))
        {
            if ((times.From is not { } begin || from >= begin) && (times.To is not { } end || to < end))
            {
                return new(ScopeVerdict.Proven, from);
            }

            if ((times.From is not { } since || to is not { } latest || latest >= since) && (times.To is not { } until || from < until))
            {
                var first = times.From > from ? times.From.Value : from;
                share = share is { } known && known.From <= first ? known : new(ScopeVerdict.Possible, first);
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
        : _hasWindows ? Joined(SuspectWindows.Of(_tool!, setting))
        : [new(SuspectWindows.LastGood(_tool!, setting), null)];

    // Where one window ends as the next begins, there is no good time between them.
    private static ImmutableArray<Times> Joined(ImmutableArray<SuspectWindow> windows)
    {
        var joined = ImmutableArray.CreateBuilder<Times>();
        foreach (var window in windows)
        {
            if (joined.Count > 0 && (joined[^1].To is not { } end || window.From is not { } from || from <= end))
            {
                var to = joined[^1].To is null || window.To is null ? null : window.To > joined[^1].To ? window.To : joined[^1].To;
                joined[^1] = joined[^1] with { To = to };
            }
            else
            {
                joined.Add(new(window.From, window.To));
            }
        }

        return joined.ToImmutable();
    }
}
