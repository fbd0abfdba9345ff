(async () => {
  const packed = Uint8Array.from(atob(document.getElementById('engine').textContent), (c) => c.charCodeAt(0));
  const unpacked = new Blob([packed]).stream().pipeThrough(new DecompressionStream('gzip'));
  (0, eval)(await new Response(unpacked).text());
  const options = { renderer: 'svg', actions: { export: true, source: false, compiled: false, editor: false } };
  for (const figure of document.querySelectorAll('figure.chart')) {
    const spec = JSON.parse(figure.querySelector('.spec').textContent);
    await vegaEmbed(figure.querySelector('.live'), spec, options);
    figure.classList.add('drawn');
  }
  document.body.dataset.charts = 'drawn';
})();
